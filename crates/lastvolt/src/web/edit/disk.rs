//! One file of the family put back whole: never half of it, never outside the folder, and never over
//! something that came in meanwhile.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use crate::output::plain;

/// Why a file was not written.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum NotWritten {
    /// It holds something else by now.
    Changed,
    /// It may not or cannot be written, in words.
    Refused(String),
}

/// Puts `after` in the place of `before` in a file of the folder, whose links have been followed.
pub(super) fn put(folder: &Path, name: &str, before: &str, after: &str) -> Result<(), NotWritten> {
    let target = place(folder, name).map_err(NotWritten::Refused)?;
    let refused = |error: io::Error| {
        NotWritten::Refused(format!("`{name}` cannot be written: {}", plain(&error)))
    };
    let rights = fs::metadata(&target).map_err(refused)?.permissions();
    if rights.readonly() {
        let says = format!("`{name}` may only be read; it stays as it is");
        return Err(NotWritten::Refused(says));
    }
    let file_name = target.file_name().unwrap_or_default().to_string_lossy();
    let part = target.with_file_name(format!(".{file_name}.{}.part", std::process::id()));
    let written = whole(&part, after, rights)
        .map_err(refused)
        // Looked at last, so that next to nothing can come between.
        .and_then(|()| match fs::read(&target) {
            Ok(bytes) if bytes == before.as_bytes() => Ok(()),
            Ok(_) => Err(NotWritten::Changed),
            Err(error) => Err(refused(error)),
        })
        .and_then(|()| fs::rename(&part, &target).map_err(refused));
    if written.is_err() {
        // What is not there needs no removing.
        let _ = fs::remove_file(&part);
    }
    written
}

/// The place of a file behind its links, if it is an ordinary one inside the folder.
fn place(folder: &Path, name: &str) -> Result<PathBuf, String> {
    let target = fs::canonicalize(folder.join(name))
        .map_err(|error| format!("`{name}` cannot be written: {}", plain(&error)))?;
    if !target.starts_with(folder) {
        return Err(format!(
            "`{name}` leads out of the folder of the family; it stays as it is"
        ));
    }
    if !target.is_file() {
        return Err(format!("`{name}` is not an ordinary file"));
    }
    Ok(target)
}

fn whole(path: &Path, text: &str, rights: fs::Permissions) -> io::Result<()> {
    // What an earlier desk left behind is of no use to anybody.
    let _ = fs::remove_file(path);
    let mut file = fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)?;
    file.set_permissions(rights)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}
