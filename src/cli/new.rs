//! `bloomsalt new FILE`.

use std::io::{BufRead, Read, Write};

use super::Console;
use super::args::NewArgs;
use super::failure::Failure;
use super::files::write_new;
use crate::ask::{Answer, NewRequest, Refusal, Request, WaterAnswer, ask};
use crate::bench::STARTER;
use crate::report::{self, Form};

pub(super) fn run(
    args: &NewArgs,
    input: &mut dyn BufRead,
    console: Console,
    err: &mut dyn Write,
) -> Result<String, Failure> {
    let file = args.file.display();
    let next = |formula: &str| format!("Edit it, then run\n   bloomsalt mix {formula} --bench {file}\n");
    if !args.ask {
        write_new(&args.file, STARTER)?;
        return Ok(format!("Wrote {file}: a starter bench. {}", next("push")));
    }
    if args.file.exists() {
        return Err(Failure::file("file-exists", &args.file, "exists already; nothing is overwritten"));
    }
    let answer = questions(input, err)?;
    let Answer::New(record) = &answer else { return Err(Failure::own("a bench file that is answered otherwise")) };
    let form = Form::Text { colour: console.colour_out, plot: false };
    let said = report::render(&answer, form).ok_or_else(|| Failure::own("a bench file without words"))?;
    write_new(&args.file, &record.text)?;
    Ok(format!("{said}\nWrote {file}. {}", next("growth")))
}

/// A shelf of every salt by its longest name fits into an answer of this many bytes.
const LONGEST_ANSWER: u64 = 64 << 10;

const TANK: &str = "How much does the tank hold when it is full? (as in 60 L; Enter for 60 L)";
const WATER: &str = "Is the water rain (also distilled or reverse osmosis), or tap? (rain or tap; Enter for rain)";
const REPORT: &str = "What does the supplier's report say, in mg/L? (as in Ca=40, Mg=8, Na=12, Cl=20, SO4=30, NO3=5, alkalinity=120 mg/L \
                      CaCO3; Enter without a report)";
const SCALES: &str = "Which steps do your scales show? (as in 0.1 g, 0.001 g; Enter for 0.1 g)";
const SHELF: &str = "Which salts are on the shelf? (ids or names with commas between; Enter for the usual ones)";

/// Asks one question after another, each until its answer fits.
fn questions(input: &mut dyn BufRead, err: &mut dyn Write) -> Result<Answer, Failure> {
    let (tank, scales) = ("60 L".to_owned(), vec!["0.1 g".to_owned()]);
    let mut request = NewRequest { tank, water: WaterAnswer::Rain {}, scales, shelf: Vec::new() };
    question(TANK, &mut request, input, err, |request, said| {
        if !said.is_empty() {
            said.clone_into(&mut request.tank);
        }
        Ok(())
    })?;
    question(WATER, &mut request, input, err, |request, said| {
        request.water = match said.to_ascii_lowercase().as_str() {
            "" | "rain" => WaterAnswer::Rain {},
            "tap" => WaterAnswer::Tap { report: Vec::new() },
            _ => return Err(Refusal::input("answer", format!("`{said}` is neither rain nor tap"), None)),
        };
        Ok(())
    })?;
    if let WaterAnswer::Tap { .. } = request.water {
        question(REPORT, &mut request, input, err, |request, said| {
            request.water = WaterAnswer::Tap { report: listed(said) };
            Ok(())
        })?;
    }
    question(SCALES, &mut request, input, err, |request, said| {
        if !said.is_empty() {
            request.scales = listed(said);
        }
        Ok(())
    })?;
    question(SHELF, &mut request, input, err, |request, said| {
        request.shelf = listed(said);
        Ok(())
    })
}

fn listed(said: &str) -> Vec<String> {
    said.split(',').map(str::trim).filter(|one| !one.is_empty()).map(str::to_owned).collect()
}

/// One question, asked again where its answer is refused; what is answered with all answers so far.
fn question(
    words: &str,
    request: &mut NewRequest,
    input: &mut dyn BufRead,
    err: &mut dyn Write,
    take: impl Fn(&mut NewRequest, &str) -> Result<(), Refusal>,
) -> Result<Answer, Failure> {
    loop {
        // standard error is for the person at the terminal; a pipe that is closed stops nothing
        let _ = writeln!(err, "{words}");
        let mut line = String::new();
        // a device has lines without end
        let read = Read::take(&mut *input, LONGEST_ANSWER)
            .read_line(&mut line)
            .map_err(|error| Failure::input("answer", format!("no answer can be read: {error}"), None))?;
        if read as u64 == LONGEST_ANSWER {
            return Err(Failure::input("answer", "an answer is longer than 64 KiB; nothing is written", None));
        }
        if read == 0 {
            let help = Some("answer every question, or write a starter bench without `--ask`".to_owned());
            return Err(Failure::input("answer", "the answers end before the last question; nothing is written", help));
        }
        let mut tried = request.clone();
        match take(&mut tried, line.trim()).and_then(|()| ask(&Request::New(tried.clone()))) {
            Ok(answer) => {
                *request = tried;
                return Ok(answer);
            }
            Err(refusal) => {
                let _ = writeln!(err, "   {refusal}");
            }
        }
    }
}
