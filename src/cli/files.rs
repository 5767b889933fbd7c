//! Reading a bench file, and writing a new file whole or not at all.

use std::fs::File;
use std::io::{ErrorKind, Read, Write};
use std::path::Path;

use super::failure::Failure;

/// A bench file is a page or two; anything larger is some other file.
const LARGEST_BYTES: u64 = 1 << 20;

/// The text of a bench file.
pub(super) fn read(path: &Path) -> Result<String, Failure> {
    let wrong = |error: &std::io::Error| {
        let message = match error.kind() {
            ErrorKind::NotFound => "there is no such file".to_owned(),
            _ => format!("cannot be read: {error}"),
        };
        Failure::file("file", path, &message)
    };
    let mut file = File::open(path).map_err(|error| wrong(&error))?;
    let beyond = "is larger than 1 MiB; a bench file is a page or two";
    let bytes = counted(path, &mut file, LARGEST_BYTES, beyond, wrong)?;
    String::from_utf8(bytes).map_err(|_| Failure::file("file", path, "the file is not UTF-8 text"))
}

/// The bytes of an open file, whatever it is, counted while they are read: a device has no length and no end, and what a file
/// says of its size need not be so.
///
/// * `largest`: more bytes than these are refused
/// * `beyond`: what is said of a file that has more
/// * `failed`: what is said where reading fails
pub(super) fn counted(
    path: &Path,
    file: &mut File,
    largest: u64,
    beyond: &str,
    failed: impl Fn(&std::io::Error) -> Failure,
) -> Result<Vec<u8>, Failure> {
    if file.metadata().map_err(|error| failed(&error))?.is_dir() {
        return Err(Failure::file("file", path, "is a folder"));
    }
    let mut bytes = Vec::new();
    file.take(largest + 1).read_to_end(&mut bytes).map_err(|error| failed(&error))?;
    if bytes.len() as u64 > largest {
        return Err(Failure::file("file", path, beyond));
    }
    Ok(bytes)
}

/// Writes a file that must not exist yet: it appears whole or not at all.
pub(super) fn write_new(path: &Path, text: &str) -> Result<(), Failure> {
    draft(path, text)?.persist_noclobber(path).map_err(|error| unwritten(path, &error.error))?;
    Ok(())
}

/// New files of one run: all of them appear, or none.
#[derive(Default)]
pub(super) struct New<'a>(Vec<(&'a Path, &'static str, String)>);

impl<'a> New<'a> {
    /// A file that is still to be written, and what is then said of it before its name.
    pub(super) fn add(&mut self, path: &'a Path, said: &'static str, text: String) {
        self.0.push((path, said, text));
    }

    /// Adds those of another list.
    pub(super) fn extend(&mut self, others: Self) {
        self.0.extend(others.0);
    }

    /// Writes them; returns `printed`, followed, unless it is JSON, by a line for each.
    pub(super) fn write(self, printed: String, json: bool) -> Result<String, Failure> {
        write_all_new(&self.0)?;
        let said: Vec<String> = self.0.iter().map(|(path, said, _)| format!("{said} {}.\n", path.display())).collect();
        let gap = if said.is_empty() { "" } else { "\n" };
        Ok(if json { printed } else { format!("{printed}{gap}{}", said.concat()) })
    }
}

/// Writes several files that must not exist yet: all of them appear, or none.
fn write_all_new(files: &[(&Path, &str, String)]) -> Result<(), Failure> {
    let drafts: Vec<_> = files.iter().map(|(path, _, text)| draft(path, text)).collect::<Result<_, _>>()?;
    let mut written: Vec<&Path> = Vec::new();
    for (draft, (path, ..)) in drafts.into_iter().zip(files) {
        if let Err(error) = draft.persist_noclobber(path) {
            // what this very run has put there goes again; there is nothing more to be done where even that fails
            for path in written {
                let _ = std::fs::remove_file(path);
            }
            return Err(unwritten(path, &error.error));
        }
        written.push(path);
    }
    Ok(())
}

/// The text in a file beside `path`, which must not exist yet.
fn draft(path: &Path, text: &str) -> Result<tempfile::NamedTempFile, Failure> {
    if path.symlink_metadata().is_ok() {
        return Err(Failure::file("file-exists", path, "exists already, and nothing is overwritten"));
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut new = tempfile::Builder::new();
    // such as any new file gets: the platform takes from it what it takes from all
    #[cfg(unix)]
    new.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut draft = new.tempfile_in(folder).map_err(|error| unwritten(path, &error))?;
    let file = draft.as_file_mut();
    file.write_all(text.as_bytes()).and_then(|()| file.sync_all()).map_err(|error| unwritten(path, &error))?;
    Ok(draft)
}

fn unwritten(path: &Path, error: &std::io::Error) -> Failure {
    let message = match error.kind() {
        ErrorKind::NotFound => "the folder does not exist".to_owned(),
        ErrorKind::AlreadyExists => "exists already, and nothing is overwritten".to_owned(),
        // the error of a draft names the draft, which nobody knows; its kind does not
        kind if error.raw_os_error().is_none() => format!("cannot be written: {kind}"),
        _ => format!("cannot be written: {error}"),
    };
    Failure::file("file", path, &message)
}
