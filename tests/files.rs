//! What is read and written, whatever it is: folders, pipes, devices, files that lie about their size; the mode of what is written.
#![cfg(unix)]
#![allow(clippy::disallowed_methods, reason = "makes the files that are read, and looks at those that are written")]

use std::fs::{self, OpenOptions};
use std::io::{Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;
use std::time::Duration;

use crate::ask::folder;
use crate::program::{bloomsalt, done};

const STARTER: &str = include_str!("../src/bench/starter.toml");
/// What a bench file and a logbook may have at the most, as the messages say it.
const BENCH_BYTES: usize = 1 << 20;
const LOGBOOK_BYTES: u64 = 64 << 20;

fn path(folder: &Path, name: &str) -> String {
    folder.join(name).display().to_string()
}

/// A pipe with a name, and a text that goes into it once it is opened.
fn pipe(folder: &Path, name: &str, text: &str) -> PathBuf {
    let pipe = folder.join(name);
    assert!(Command::new("mkfifo").arg(&pipe).status().expect("mkfifo").success());
    let (into, text) = (pipe.clone(), text.to_owned());
    // the reader may have seen enough before all is written
    thread::spawn(move || OpenOptions::new().write(true).open(into).map(|mut file| file.write_all(text.as_bytes())));
    pipe
}

/// Every job that reads a bench, a recipe, a logbook, with the file in its place.
fn readers(file: &str) -> [Vec<&str>; 6] {
    [
        vec!["mix", "push", "--bench", file],
        vec!["scale", file, "--to", "10 L"],
        vec!["check", "--recipe", file],
        vec!["switch", "push", "--recipe", file],
        vec!["logbook", "show", file],
        vec!["today", "--logbook", file, "--at", "2026-10-24 18:00+02:00"],
    ]
}

#[test]
fn a_device_without_end_is_refused_past_the_bound() {
    for command in readers("/dev/zero") {
        let (status, out, err) = bloomsalt(&command);
        assert_eq!((status, out.as_str()), (2, ""), "{command:?}: {err}");
        assert!(err.contains("`/dev/zero`: is larger than"), "{command:?}: {err}");
    }
}

#[test]
fn a_folder_is_told_as_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let name = folder.path().display().to_string();
    for command in readers(&name) {
        let (status, _, err) = bloomsalt(&command);
        assert_eq!(status, 2, "{command:?}");
        assert_eq!(err.lines().next(), Some(format!("error: `{name}`: is a folder").as_str()), "{command:?}: {err}");
    }
    let (status, _, err) = bloomsalt(&["logbook", "add", &name, "--at", "2026-10-03 18:30+02:00", "note", "x"]);
    assert!(status == 2 && err.contains("is a folder"), "{err}");
}

/// A pipe has no size, and is read to its end.
#[test]
fn a_pipe_is_read_like_a_file() {
    let (kept, recipe) = folder();
    let logbook = fs::read_to_string("examples/streptocarpus-logbook.jsonl").expect("the logbook");
    let recipe_text = fs::read_to_string(&recipe).expect("the recipe");
    let whole = path(kept.path(), "whole.jsonl");
    fs::write(&whole, &logbook).expect("written");
    let at = pipe(kept.path(), "bench", STARTER).display().to_string();
    assert_eq!(done(&["mix", "push", "--bench", &at]), done(&["mix", "push"]));
    let at = pipe(kept.path(), "recipe", &recipe_text).display().to_string();
    assert_eq!(done(&["scale", &at, "--to", "10 L"]), done(&["scale", &recipe, "--to", "10 L"]));
    let at = pipe(kept.path(), "logbook", &logbook).display().to_string();
    assert_eq!(done(&["logbook", "show", &at]), done(&["logbook", "show", &whole]));
    let long = "#".repeat(BENCH_BYTES + 1);
    let at = pipe(kept.path(), "long", &long).display().to_string();
    let (status, _, err) = bloomsalt(&["mix", "push", "--bench", &at]);
    assert!(status == 2 && err.contains("is larger than 1 MiB"), "{err}");
}

/// The bound itself is taken, one byte more is not.
#[test]
fn files_are_taken_up_to_their_bound() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(folder.path(), "bench.toml");
    let filled = |bytes: usize| format!("{STARTER}\n#{}", "x".repeat(bytes - STARTER.len() - 2));
    fs::write(&file, filled(BENCH_BYTES)).expect("written");
    assert_eq!(done(&["mix", "push", "--bench", &file]), done(&["mix", "push"]));
    fs::write(&file, filled(BENCH_BYTES + 1)).expect("written");
    let (status, _, err) = bloomsalt(&["mix", "push", "--bench", &file]);
    assert!(status == 2 && err.contains("is larger than 1 MiB"), "{err}");
    // a file with a hole takes no room on the disk
    let file = path(folder.path(), "tank.jsonl");
    fs::File::create_new(&file).and_then(|file| file.set_len(LOGBOOK_BYTES + 1)).expect("a file");
    let (status, _, err) = bloomsalt(&["logbook", "show", &file]);
    assert!(status == 2 && err.contains("is larger than 64 MiB"), "{err}");
    fs::write(&file, [0xff, 0xfe]).expect("written");
    let (status, _, err) = bloomsalt(&["mix", "push", "--bench", &file]);
    assert!(status == 2 && err.contains("the file is not UTF-8 text"), "{err}");
}

/// Files of the kernel say that they are empty: what they hold is read all the same.
#[cfg(target_os = "linux")]
#[test]
fn a_file_that_lies_about_its_size_is_read() {
    for file in ["/proc/self/status", "/proc/self/limits"] {
        assert_eq!(fs::metadata(file).expect("a file").len(), 0, "{file}");
        let (status, _, err) = bloomsalt(&["mix", "push", "--bench", file]);
        assert!(status == 2 && err.contains(&format!("{file}, line 1")), "{err}");
    }
}

/// Where nothing stays, nothing is entered: not even where writing would succeed.
#[test]
fn an_entry_goes_into_no_device_and_no_pipe() {
    let folder = tempfile::tempdir().expect("a folder");
    let pipe = path(folder.path(), "pipe");
    assert!(Command::new("mkfifo").arg(&pipe).status().expect("mkfifo").success());
    for file in ["/dev/null", "/dev/zero", &pipe] {
        let (status, out, err) = bloomsalt(&["logbook", "add", file, "--at", "2026-10-03 18:30+02:00", "note", "x"]);
        assert_eq!((status, out.as_str()), (2, ""), "{file}");
        assert_eq!(err, format!("error: `{file}`: is a device or a pipe, which keeps no entries\n"));
    }
}

/// New files get the mode that the platform gives to new files; a logbook keeps the one it has.
#[test]
fn files_get_the_usual_mode() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| path(folder.path(), name);
    let [usual, recipe, sheet, bench, logbook] = ["usual", "push.json", "push.html", "bench.toml", "tank.jsonl"].map(at);
    fs::write(&usual, "").expect("written");
    done(&["mix", "push", "--save", &recipe, "--sheet", &sheet]);
    done(&["new", &bench]);
    let note = ["logbook", "add", &logbook, "--at", "2026-10-03 18:30+02:00", "note", "x"];
    done(&note);
    let mode = |file: &str| fs::metadata(file).expect("a file").permissions().mode() & 0o7777;
    for file in [&recipe, &sheet, &bench, &logbook] {
        assert_eq!(mode(file), mode(&usual), "{file}");
    }
    fs::set_permissions(&logbook, fs::Permissions::from_mode(0o640)).expect("set");
    done(&note);
    assert_eq!(mode(&logbook), 0o640);
}

/// What goes wrong with a draft is told of the file that was asked for, and nothing is left beside it.
#[test]
fn no_message_names_a_draft() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(folder.path(), "file");
    fs::write(&file, "").expect("written");
    let long = "x".repeat(300);
    for wrong in [format!("{file}/push.json"), path(folder.path(), &long), path(folder.path(), "none/push.json")] {
        let (status, out, err) = bloomsalt(&["mix", "push", "--save", &wrong]);
        assert_eq!((status, out.as_str()), (2, ""), "{err}");
        let told = err.strip_prefix(&format!("error: `{wrong}`: ")).unwrap_or_else(|| panic!("{err}"));
        assert!(!told.contains(".tmp") && !told.contains("at path"), "{err}");
    }
    assert_eq!(fs::read_dir(folder.path()).expect("a folder").count(), 1);
}

/// A full device takes no words: what is written stands and is told, what is only printed is a failure.
#[cfg(target_os = "linux")]
#[test]
fn what_is_written_stands_where_nothing_can_be_printed() {
    let folder = tempfile::tempdir().expect("a folder");
    let (bench, logbook) = (path(folder.path(), "bench.toml"), path(folder.path(), "tank.jsonl"));
    let note = ["logbook", "add", &logbook, "--at", "2026-10-03 18:30+02:00", "note", "x"];
    for (command, status) in [(&["new", &bench][..], 0), (&note, 0), (&["mix", "push"], 3)] {
        let full = OpenOptions::new().write(true).open("/dev/full").expect("the device");
        let mut program = Command::new(env!("CARGO_BIN_EXE_bloomsalt"));
        let ran = program.args(command).stdout(full).output().expect("the program runs");
        let err = String::from_utf8_lossy(&ran.stderr);
        assert_eq!(ran.status.code(), Some(status), "{command:?}: {err}");
        assert!(err.contains("the output cannot be written"), "{err}");
        assert_eq!(err.contains("stands in the file"), status == 0, "{command:?}: {err}");
    }
    assert_eq!(fs::read_to_string(&bench).expect("the bench"), STARTER);
    assert_eq!(fs::read_to_string(&logbook).expect("the logbook").lines().count(), 1);
}

/// Answers to the questions of a first bench come from anything, a device too.
#[test]
fn an_answer_without_end_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(folder.path(), "bench.toml");
    let mut command = Command::new(env!("CARGO_BIN_EXE_bloomsalt"));
    command.args(["new", &file, "--ask"]).stdin(fs::File::open("/dev/zero").expect("the device"));
    let ran = command.output().expect("the program runs");
    assert_eq!(ran.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&ran.stderr).contains("longer than 64 KiB"), "{ran:?}");
    assert!(!Path::new(&file).exists());
}

/// A program that writes a line and waits for its answer before it writes the next is never left waiting.
#[test]
fn a_batch_answers_line_by_line() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_bloomsalt"))
        .arg("batch")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program runs");
    let (mut asks, mut answers) = (child.stdin.take().expect("its input"), child.stdout.take().expect("its output"));
    let (told, heard) = std::sync::mpsc::channel();
    let listener = thread::spawn(move || {
        let (mut line, mut byte) = (Vec::new(), [0]);
        while answers.read(&mut byte).expect("read") == 1 {
            line.push(byte[0]);
            if byte == *b"\n" && told.send(String::from_utf8(std::mem::take(&mut line)).expect("UTF-8")).is_err() {
                break;
            }
        }
    });
    for at in 0..6 {
        let asked = if at % 3 == 2 {
            "{\"job\":\"mix\",\"formula\":\"psh\"}\n".to_owned()
        } else {
            format!("{{\"job\":\"mix\",\"formula\":\"push\",\"tank\":\"{} L\"}}\n", 40 + at)
        };
        asks.write_all(asked.as_bytes()).expect("written");
        let answer = heard.recv_timeout(Duration::from_secs(60)).expect("an answer before the next line is asked");
        let answer: serde_json::Value = serde_json::from_str(&answer).expect("JSON");
        if at % 3 == 2 {
            assert_eq!(answer["problems"][0]["help"], "did you mean `push`?");
        } else {
            assert_eq!(answer["volume_l"], f64::from(40 + at));
        }
    }
    drop(asks);
    assert!(child.wait().expect("its end").success());
    listener.join().expect("its end");
}
