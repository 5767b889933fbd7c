//! The file of a logbook: read under a shared lock, appended to under an exclusive one, and never rewritten.

use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::Path;

use super::failure::Failure;
use super::files::counted;

/// Some ten thousand entries a year for a decade; anything larger is some other file.
const LARGEST_BYTES: u64 = 64 << 20;

fn wrong(path: &Path, doing: &str, error: &std::io::Error) -> Failure {
    let message = match error.kind() {
        ErrorKind::NotFound if doing == "read" => "there is no such file".to_owned(),
        ErrorKind::NotFound => "there is no such file, or its folder does not exist".to_owned(),
        ErrorKind::IsADirectory => "is a folder".to_owned(),
        ErrorKind::Unsupported => "is on a file system without locks, where two writers could lose an entry".to_owned(),
        _ => format!("cannot be {doing}: {error}"),
    };
    Failure::file("file", path, &message)
}

fn everything(path: &Path, file: &mut File, doing: &str) -> Result<Vec<u8>, Failure> {
    let beyond = "is larger than 64 MiB; that is no file of this program";
    counted(path, file, LARGEST_BYTES, beyond, |error| wrong(path, doing, error))
}

/// The bytes of a file, no writer in the middle of an entry.
pub(super) fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    let mut file = File::open(path).map_err(|error| wrong(path, "read", &error))?;
    match file.lock_shared() {
        // where there are no locks a torn last line is told, and reading does no harm
        Err(error) if error.kind() != ErrorKind::Unsupported => return Err(wrong(path, "read", &error)),
        _ => {}
    }
    everything(path, &mut file, "read")
}

/// Appends what `make` makes of the bytes that are there, in one write, and returns when it is on the disk.
///
/// The exclusive lock is held from before the reading until after the writing, so two processes number their entries one
/// after the other. `create` makes a file that does not exist.
pub(super) fn append<T>(
    path: &Path,
    create: bool,
    make: impl FnOnce(&[u8]) -> Result<(String, T), Failure>,
) -> Result<T, Failure> {
    let failed = |error: std::io::Error| wrong(path, "written", &error);
    let mut file = OpenOptions::new().read(true).append(true).create(create).open(path).map_err(failed)?;
    let about = file.metadata().map_err(failed)?;
    if !about.is_file() && !about.is_dir() {
        return Err(Failure::file("file", path, "is a device or a pipe, which keeps no entries"));
    }
    file.lock().map_err(failed)?;
    let bytes = everything(path, &mut file, "written")?;
    let (text, made) = make(&bytes)?;
    file.write_all(text.as_bytes()).map_err(failed)?;
    file.sync_all().map_err(failed)?;
    if bytes.is_empty() {
        sync_folder(path).map_err(failed)?;
    }
    Ok(made)
}

/// The name of a new file is on the disk only when its folder is.
#[cfg(unix)]
fn sync_folder(path: &Path) -> std::io::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    File::open(folder)?.sync_all()
}

/// Other systems write the name with the file, and open no folders.
#[cfg(not(unix))]
fn sync_folder(_: &Path) -> std::io::Result<()> {
    Ok(())
}
