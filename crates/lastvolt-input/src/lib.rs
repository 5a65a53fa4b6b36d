//! Text of a family of supply boards in, model and diagnostics out.
//!
//! [`read()`] is handed named texts and gives the model, a map from each of its properties to its place
//! in the text, and every problem at once. It knows no files, no terminal and no network.

pub mod measured;
pub mod quantity;
pub mod written;

mod assumed;
mod catalog;
mod diagnostic;
mod document;
mod join;
mod keys;
mod manual;
mod place;
mod read;
mod section;
mod spans;
mod suggest;

pub use assumed::Assumed;
pub use catalog::{CatalogEntry, catalog, family_models};
pub use diagnostic::{Diagnostic, Related, Severity};
pub use keys::{Absent, Key, ModelKeys, Owner, Shape, keys, model_keys};
pub use manual::{reference, units};
pub use place::{Place, SpanMap};
pub use read::{Loaded, board_files, read};
pub use section::cell::CellFacts;
pub use section::seen::SeenRange;

/// A named text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Text {
    /// Name of the file, relative to the family's folder.
    pub name: String,
    /// Its content.
    pub text: String,
}
