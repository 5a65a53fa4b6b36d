//! A family that is right and awkward, as files of a folder.

mod texts;

use crate::program::Folder;

/// Writes the family into a folder.
pub(crate) fn family(folder: &Folder) {
    for (name, text) in texts::texts() {
        folder.write(name, text);
    }
}
