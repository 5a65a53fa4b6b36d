//! From a folder to a family: finds the files, reads them, and says everything that is wrong.

use std::fs;
use std::path::{Path, PathBuf};

use lastvolt_core::model;
use lastvolt_input::{Diagnostic, Severity, SpanMap, Text, board_files, read};
use sha2::{Digest, Sha256};

use crate::failure::Failure;
use crate::output::{plain, shown};

/// Name of the file that a family starts from.
pub(crate) const FAMILY_FILE: &str = "family.toml";

/// Largest file that is taken into memory, in bytes; what is read into a model may be less.
const LARGEST_FILE: u64 = 8 << 20;

/// A family that was read, and where it came from.
#[derive(Debug)]
pub(crate) struct Family {
    /// The model.
    pub(crate) model: model::Family,
    /// Where things stand in the texts.
    pub(crate) spans: SpanMap,
    /// The texts.
    pub(crate) texts: Vec<Text>,
    /// The folder.
    pub(crate) folder: PathBuf,
    /// Digest of names and contents of the files.
    pub(crate) digest: String,
    /// Slips that do not keep the family from being read.
    pub(crate) slips: Vec<Diagnostic>,
}

/// Reads the family of a folder, or of its `family.toml`.
///
/// # Errors
/// Every problem of every file at once.
pub(crate) fn load(dir: &Path) -> Result<Family, Failure> {
    let folder = folder_of(dir)?;
    let head = read_file(&folder, FAMILY_FILE, LARGEST_FILE).map_err(|problem| Failure::Input {
        problems: vec![*problem],
        texts: Vec::new(),
    })?;
    let mut problems = Vec::new();
    let mut texts = vec![head];
    for name in board_files(&texts[0].text) {
        match read_file(&folder, &name, LARGEST_FILE) {
            Ok(text) => texts.push(text),
            Err(problem) => problems.push(*problem),
        }
    }
    let loaded = read(&texts);
    let found = explain_missing(loaded.problems, problems);
    match loaded.family {
        Some(model) if found.iter().all(|p| p.severity == Severity::Warning) => Ok(Family {
            model,
            spans: loaded.spans,
            digest: digest(&texts),
            texts,
            folder,
            slips: found,
        }),
        _ => Err(Failure::Input {
            problems: found,
            texts,
        }),
    }
}

/// Puts the reason why a file could not be read where the family names it.
fn explain_missing(found: Vec<Diagnostic>, unread: Vec<Diagnostic>) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    let mut unread: Vec<Option<Diagnostic>> = unread.into_iter().map(Some).collect();
    for mut problem in found {
        let reason = unread.iter_mut().find(|u| {
            let named = u.as_ref().map(|u| format!("`{}`", u.file));
            problem.code == "missing-board" && named.is_some_and(|n| problem.says.contains(&n))
        });
        match reason.and_then(Option::take) {
            // The file is there and its fault has a place of its own.
            Some(reason) if reason.code == "not-utf-8" => out.push(reason),
            Some(reason) => {
                problem.says = reason.says;
                problem.proposal = reason.proposal.or(problem.proposal);
                out.push(problem);
            }
            None => out.push(problem),
        }
    }
    out.extend(unread.into_iter().flatten());
    out
}

fn folder_of(dir: &Path) -> Result<PathBuf, Failure> {
    let meta = fs::metadata(dir).map_err(|error| {
        let says = format!("`{}` cannot be opened: {}", dir.display(), plain(&error));
        Failure::Input {
            problems: vec![Diagnostic {
                proposal: (error.kind() == std::io::ErrorKind::NotFound).then(|| {
                    format!(
                        "`lastvolt new {}` writes a family to start from",
                        dir.display()
                    )
                }),
                ..Diagnostic::of_file("missing-family", &shown(dir), says)
            }],
            texts: Vec::new(),
        }
    })?;
    if meta.is_dir() {
        return Ok(dir.to_owned());
    }
    if dir.file_name().is_some_and(|name| name == FAMILY_FILE) {
        let parent = dir.parent().filter(|p| !p.as_os_str().is_empty());
        return Ok(parent.map_or_else(|| PathBuf::from("."), Path::to_owned));
    }
    let says = format!(
        "`{}` is neither a folder nor a `{FAMILY_FILE}`",
        dir.display()
    );
    Err(Failure::of_file("not-a-family", &shown(dir), says))
}

/// Reads one file as text, of at most so many bytes.
pub(crate) fn read_file(folder: &Path, name: &str, most: u64) -> Result<Text, Box<Diagnostic>> {
    let path = folder.join(name);
    let fault = |code, says: String| Box::new(Diagnostic::of_file(code, name, says));
    let refused = |error: &std::io::Error| {
        let says = format!("`{name}` cannot be read: {}", plain(error));
        fault("unreadable-file", says)
    };
    let meta = fs::metadata(&path).map_err(|e| refused(&e))?;
    if meta.is_dir() {
        return Err(fault(
            "not-a-file",
            format!("`{name}` is a folder, not a file"),
        ));
    }
    if !meta.is_file() {
        // A pipe or device could keep the program waiting for ever.
        let says = format!("`{name}` is not an ordinary file");
        return Err(fault("not-a-file", says));
    }
    if most < meta.len() {
        let says = format!("`{name}` has {} bytes, at most {most} are read", meta.len());
        return Err(fault("file-too-large", says));
    }
    let bytes = fs::read(&path).map_err(|e| refused(&e))?;
    match String::from_utf8(bytes) {
        Ok(text) => Ok(Text {
            name: name.to_owned(),
            text,
        }),
        Err(error) => Err(Box::new(not_utf8(
            name,
            error.as_bytes(),
            error.utf8_error().valid_up_to(),
        ))),
    }
}

fn not_utf8(name: &str, bytes: &[u8], at: usize) -> Diagnostic {
    let before = String::from_utf8_lossy(&bytes[..at]);
    let line = before.matches('\n').count() + 1;
    let last = before.rsplit('\n').next().unwrap_or_default();
    let says = format!(
        "`{name}` is not UTF-8 text: byte {:#04x} at place {} of the file",
        bytes.get(at).copied().unwrap_or_default(),
        at + 1
    );
    Diagnostic {
        line,
        column: last.chars().count() + 1,
        proposal: Some("save the file as UTF-8".to_owned()),
        ..Diagnostic::of_file("not-utf-8", name, says)
    }
}

/// SHA-256 over names and contents in the order of reading, each with its length before it.
pub(crate) fn digest(texts: &[Text]) -> String {
    let mut hash = Sha256::new();
    for text in texts {
        for piece in [&text.name, &text.text] {
            hash.update((piece.len() as u64).to_le_bytes());
            hash.update(piece.as_bytes());
        }
    }
    format!("sha256:{}", hex(hash))
}

/// SHA-256 over the bytes of one text, as other programs compute it of the file.
pub(crate) fn sha256(text: &str) -> String {
    hex(Sha256::new_with_prefix(text.as_bytes()))
}

fn hex(hash: Sha256) -> String {
    let bytes = hash.finalize();
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_digest_depends_on_names_and_contents_and_where_they_part() {
        let text = |name: &str, text: &str| Text {
            name: name.to_owned(),
            text: text.to_owned(),
        };
        let base = digest(&[text("a", "bc")]);
        assert_eq!(base, digest(&[text("a", "bc")]));
        assert_ne!(base, digest(&[text("ab", "c")]));
        assert_eq!(base.len(), "sha256:".len() + 64);
    }

    #[test]
    fn bytes_that_are_not_text_have_a_place() {
        let found = not_utf8("a.toml", b"x = 1\ny = \xff", 10);
        assert_eq!((found.line, found.column), (2, 5));
        assert!(found.says.contains("0xff at place 11"), "{}", found.says);
    }
}
