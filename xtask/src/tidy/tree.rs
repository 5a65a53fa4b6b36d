//! The text files of the repository, as a value that tests can also make up.

use std::io;
use std::path::Path;

/// Endings of files that a check looks into.
const READ: [&str; 4] = [".rs", ".md", ".toml", ".py"];

/// The one hidden folder that counts.
const CHECKS: &str = ".ci";

/// Text files of the repository with paths relative to its root, sorted.
#[derive(Debug, Default)]
pub(crate) struct Tree {
    files: Vec<File>,
}

/// One text file.
#[derive(Debug)]
pub(crate) struct File {
    /// Path from the root, with slashes.
    pub(crate) path: String,
    /// What is in it.
    pub(crate) text: String,
}

impl Tree {
    /// Reads the repository in a folder, without build output and hidden folders.
    pub(crate) fn read(root: &Path) -> io::Result<Self> {
        let mut tree = Self::default();
        tree.read_folder(root, "")?;
        tree.files.sort_by(|a, b| a.path.cmp(&b.path));
        Ok(tree)
    }

    /// A made-up repository.
    #[cfg(test)]
    pub(crate) fn of(files: &[(&str, &str)]) -> Self {
        let file = |(path, text): &(&str, &str)| File {
            path: (*path).to_owned(),
            text: (*text).to_owned(),
        };
        Self {
            files: files.iter().map(file).collect(),
        }
    }

    /// All files.
    pub(crate) fn files(&self) -> &[File] {
        &self.files
    }

    /// The file at a path.
    pub(crate) fn file(&self, path: &str) -> Option<&File> {
        self.files.iter().find(|f| f.path == path)
    }

    /// Files whose name ends so.
    pub(crate) fn with_ending<'a>(&'a self, ending: &'a str) -> impl Iterator<Item = &'a File> {
        self.files.iter().filter(move |f| f.path.ends_with(ending))
    }

    /// Whether there is a file or folder at a path.
    pub(crate) fn has(&self, path: &str) -> bool {
        let folder = format!("{path}/");
        self.files
            .iter()
            .any(|f| f.path == path || f.path.starts_with(&folder))
    }

    fn read_folder(&mut self, folder: &Path, prefix: &str) -> io::Result<()> {
        for entry in std::fs::read_dir(folder)? {
            let entry = entry?;
            let name = entry.file_name().to_string_lossy().into_owned();
            let path = format!("{prefix}{name}");
            if entry.file_type()?.is_dir() {
                let is_hidden = name.starts_with('.') && name != CHECKS;
                if name != "target" && !is_hidden {
                    self.read_folder(&entry.path(), &format!("{path}/"))?;
                }
            } else {
                let is_read = READ.iter().any(|ending| name.ends_with(ending));
                let text = if is_read || prefix.starts_with(CHECKS) {
                    // A fixture may be broken on purpose.
                    String::from_utf8_lossy(&std::fs::read(entry.path())?).into_owned()
                } else {
                    // Only its being there matters.
                    String::new()
                };
                self.files.push(File { path, text });
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::Tree;

    #[test]
    fn folders_count_as_present() {
        let tree = Tree::of(&[("docs/guide/files.md", "")]);
        assert!(tree.has("docs/guide"));
        assert!(tree.has("docs/guide/files.md"));
        assert!(!tree.has("docs/gui"));
    }
}
