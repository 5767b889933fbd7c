//! `bloomsalt batch`: one request a line, one answer or refusal a line, in order.

use std::io::{BufRead, Read, Write};
use std::num::NonZero;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Mutex, PoisonError};
use std::thread;

use crate::ask::{Refusal, Request, ask};
use crate::report::line;

/// A bench, a recipe and a logbook of many years fit into a line of this many bytes.
const LONGEST_LINE: u64 = 64 << 20;
/// Lines in work for each thread: enough that none waits for a slow one before it.
const AHEAD: usize = 4;

/// Answers requests, one a line of JSON, by one document a line, in order, on all cores; what is held in memory does not
/// grow with the number of lines. A line that cannot be answered is answered by its refusal.
///
/// # Errors
/// Reading or writing failed; the lines before it are answered.
///
/// # Examples
/// ```
/// let mut out = Vec::new();
/// let asked = "{\"job\":\"mix\",\"formula\":\"push\"}\n{\"job\":\"mixx\"}\n";
/// bloomsalt::cli::batch(&mut asked.as_bytes(), &mut out)?;
/// assert_eq!(String::from_utf8_lossy(&out).lines().count(), 2);
/// # Ok::<(), std::io::Error>(())
/// ```
pub fn batch(input: &mut (dyn BufRead + Send), out: &mut dyn Write) -> std::io::Result<()> {
    let threads = thread::available_parallelism().map_or(1, NonZero::get);
    let (to_workers, lines) = sync_channel(AHEAD * threads);
    let (to_writer, answers) = sync_channel(AHEAD * threads);
    let lines = Mutex::new(lines);
    thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| work(&lines));
        }
        let reader = scope.spawn(move || read(input, &to_workers, &to_writer));
        write(answers, out)?;
        reader.join().unwrap_or(Ok(()))
    })
}

/// A line, and where its answer goes.
type Job = (Line, SyncSender<String>);

enum Line {
    Whole(Vec<u8>),
    TooLong,
}

/// Hands every line to the workers, and the place of its answer, in order, to the writer; ends where nobody takes them.
fn read(
    input: &mut dyn BufRead,
    to_workers: &SyncSender<Job>,
    to_writer: &SyncSender<Receiver<String>>,
) -> std::io::Result<()> {
    while let Some(line) = next(input)? {
        let (answer, place) = sync_channel(1);
        if to_writer.send(place).is_err() || to_workers.send((line, answer)).is_err() {
            break;
        }
    }
    Ok(())
}

/// The next line; of one that is too long no more is kept than was needed to see that.
fn next(input: &mut dyn BufRead) -> std::io::Result<Option<Line>> {
    let mut bytes = Vec::new();
    if input.take(LONGEST_LINE + 1).read_until(b'\n', &mut bytes)? == 0 {
        return Ok(None);
    }
    let mut too_long = false;
    while bytes.last() != Some(&b'\n') && bytes.len() as u64 > LONGEST_LINE {
        too_long = true;
        bytes.clear();
        input.take(LONGEST_LINE + 1).read_until(b'\n', &mut bytes)?;
    }
    Ok(Some(if too_long { Line::TooLong } else { Line::Whole(bytes) }))
}

fn work(lines: &Mutex<Receiver<Job>>) {
    loop {
        let next = lines.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok((line, answer)) = next else { break };
        // where the writer has gone there is nobody to answer
        let _ = answer.send(answered(&line));
    }
}

/// Writes the answers as they come due; each goes out at once, for a reader that waits for it.
fn write(answers: Receiver<Receiver<String>>, out: &mut dyn Write) -> std::io::Result<()> {
    for answer in answers {
        if let Ok(text) = answer.recv() {
            out.write_all(text.as_bytes())?;
            out.flush()?;
        }
    }
    Ok(())
}

fn answered(asked: &Line) -> String {
    let bytes = match asked {
        Line::Whole(bytes) => bytes.strip_suffix(b"\n").unwrap_or(bytes),
        Line::TooLong => return line(&Refusal::input("request", "the line is longer than 64 MiB", None)),
    };
    let request = match std::str::from_utf8(bytes).map_err(|_| Refusal::input("request", "the line is not UTF-8 text", None))
    {
        Ok(text) => Request::parse(text),
        Err(refusal) => Err(refusal),
    };
    // a fault of our own in one line is not one of the others
    let done = |request: &Request| {
        let broken = |_| Err(Refusal::own("the program failed on this request; please report it").of_job(request.job()));
        catch_unwind(AssertUnwindSafe(|| ask(request))).unwrap_or_else(broken)
    };
    match request.and_then(|request| done(&request)) {
        Ok(answer) => line(&answer),
        Err(refusal) => line(&refusal),
    }
}
