//! What leaves the program: standard output, messages, and files that are whole or not there.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::failure::Failure;
use crate::text::paint::Paint;
use crate::view::Document;

/// Writes text to standard output.
pub(crate) fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    let text = harmless(text, Paint::for_stdout());
    let done = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    done.map_err(|error| match error.kind() {
        io::ErrorKind::BrokenPipe => Failure::Closed,
        _ => Failure::of_file(
            "cannot-write",
            "standard output",
            format!("standard output cannot be written: {}", plain(&error)),
        ),
    })
}

/// Writes a line to standard error; nothing is left to do if that is closed.
pub(crate) fn message(text: &str) {
    let mut out = io::stderr().lock();
    let _ = writeln!(out, "{}", harmless(text, Paint::for_stderr()));
}

/// Text without the control characters that a name in a file may hold: a terminal obeys them. Colour
/// that the program itself adds is left where there is any.
fn harmless(text: &str, paint: Paint) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let taken = match colour(rest) {
            Some(length) if paint == Paint::Colour => {
                out.push_str(&rest[..length]);
                length
            }
            _ => {
                let keep = !c.is_control() || c == '\n' || c == '\t';
                out.push(if keep { c } else { '\u{fffd}' });
                c.len_utf8()
            }
        };
        rest = &rest[taken..];
    }
    out
}

/// Length of the colour sequence that a text begins with.
fn colour(text: &str) -> Option<usize> {
    let inner = text.strip_prefix("\u{1b}[")?;
    let end = inner.find(|c: char| !c.is_ascii_digit() && c != ';')?;
    inner[end..].starts_with('m').then_some(2 + end + 1)
}

/// A document as JSON text.
pub(crate) fn json<T: Serialize>(document: &Document<T>) -> Result<String, Failure> {
    pretty(document)
}

/// Anything serialisable as JSON text.
pub(crate) fn pretty<T: Serialize>(value: &T) -> Result<String, Failure> {
    let mut text =
        serde_json::to_string_pretty(value).map_err(|error| Failure::Fault(error.to_string()))?;
    text.push('\n');
    Ok(text)
}

/// Writes files into a folder, which is made where it is missing. Each file is written beside its
/// place and moved there when all are whole, so that a reader never sees half of one and a failure
/// leaves what was there before.
pub(crate) fn write_files(folder: &Path, files: &[(&str, &str)]) -> Result<(), Failure> {
    let made = !folder.exists();
    fs::create_dir_all(folder).map_err(|e| refused(folder, "cannot be made", &e))?;
    let written = write_beside(folder, files);
    let moved = written.and_then(|()| move_in_place(folder, files));
    if moved.is_err() {
        for (name, _) in files {
            // What is not there needs no removing.
            let _ = fs::remove_file(folder.join(beside(name)));
        }
        if made {
            let _ = fs::remove_dir(folder);
        }
    }
    moved
}

/// Writes files at places of their own, in folders that are there: none of them unless all can be.
pub(crate) fn write_each(files: &[(&Path, String)]) -> Result<(), Failure> {
    let mut targets: Vec<(PathBuf, PathBuf, &str)> = Vec::new();
    for (path, text) in files {
        let target = ordinary(path)?;
        if targets.iter().any(|t| t.0 == target) {
            let says = format!("`{}` is to hold two things at once", path.display());
            return Err(Failure::of_file("cannot-write", &shown(path), says));
        }
        let name = target.file_name().unwrap_or_default().to_string_lossy();
        let part = target.with_file_name(beside(&name));
        targets.push((target, part, text));
    }
    let written = targets
        .iter()
        .try_for_each(|(target, part, text)| {
            write_whole(part, text).map_err(|e| refused(target, "cannot be written", &e))
        })
        .and_then(|()| {
            targets.iter().try_for_each(|(target, part, _)| {
                fs::rename(part, target).map_err(|e| refused(target, "cannot be written", &e))
            })
        });
    if written.is_err() {
        for (_, part, _) in &targets {
            // What is not there needs no removing.
            let _ = fs::remove_file(part);
        }
    }
    written
}

/// The place of a file behind its links; devices, pipes and folders are none.
fn ordinary(path: &Path) -> Result<PathBuf, Failure> {
    let fault = |says: String| Err(Failure::of_file("cannot-write", &shown(path), says));
    let shown = path.display();
    if path.as_os_str() == "-" || path.file_name().is_none() {
        return fault(format!("`{shown}` is not the name of a file"));
    }
    match fs::metadata(path) {
        Ok(meta) if meta.is_dir() => fault(format!("`{shown}` is a folder, and a file goes there")),
        Ok(meta) if !meta.is_file() => fault(format!("`{shown}` is not an ordinary file")),
        Ok(_) => fs::canonicalize(path).map_err(|e| refused(path, "cannot be written", &e)),
        Err(_) => Ok(path.to_owned()),
    }
}

fn write_whole(path: &Path, text: &str) -> io::Result<()> {
    let mut file = fs::File::create(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

fn write_beside(folder: &Path, files: &[(&str, &str)]) -> Result<(), Failure> {
    for (name, text) in files {
        let target = folder.join(name);
        if target.is_dir() {
            let says = format!("`{}` is a folder, and a file goes there", target.display());
            return Err(Failure::of_file("cannot-write", &shown(&target), says));
        }
        let path = folder.join(beside(name));
        write_whole(&path, text).map_err(|e| refused(&target, "cannot be written", &e))?;
    }
    Ok(())
}

fn move_in_place(folder: &Path, files: &[(&str, &str)]) -> Result<(), Failure> {
    for (name, _) in files {
        let target = folder.join(name);
        fs::rename(folder.join(beside(name)), &target)
            .map_err(|e| refused(&target, "cannot be written", &e))?;
    }
    Ok(())
}

fn beside(name: &str) -> String {
    format!(".{name}.{}.part", std::process::id())
}

fn refused(path: &Path, what: &str, error: &io::Error) -> Failure {
    let says = format!("`{}` {what}: {}", path.display(), plain(error));
    Failure::of_file("cannot-write", &shown(path), says)
}

/// A path as messages show it.
pub(crate) fn shown(path: &Path) -> String {
    path.display().to_string()
}

/// An error of the operating system in plain words.
pub(crate) fn plain(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder".to_owned(),
        io::ErrorKind::PermissionDenied => "permission denied".to_owned(),
        io::ErrorKind::NotADirectory => "a part of the path is not a folder".to_owned(),
        io::ErrorKind::IsADirectory => "it is a folder".to_owned(),
        io::ErrorKind::StorageFull => "the disk is full".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk can only be read".to_owned(),
        io::ErrorKind::AlreadyExists => "something of that name is there".to_owned(),
        _ => error.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_characters_of_names_do_not_reach_a_terminal() {
        let text = "\u{1b}[1mbold\u{1b}[0m \u{1b}]0;title\u{7} é\n";
        let coloured = harmless(text, Paint::Colour);
        assert_eq!(
            coloured,
            "\u{1b}[1mbold\u{1b}[0m \u{fffd}]0;title\u{fffd} é\n"
        );
        assert!(!harmless(text, Paint::Plain).contains('\u{1b}'));
    }
}
