//! Spanned TOML: the tree of a file, what a field may hold, and typed readers of fields.
//!
//! A section states its fields once as [`Field`]s; readers check type, unit and range, and the
//! manual of the file format is made from the same statements.

mod field;
mod fields;
mod tree;
mod values;

pub(crate) use field::{Bounds, Field, Need, Takes};
pub(crate) use fields::{Either, Fields, Layer};
pub(crate) use tree::{Data, Entry, Table, Value, parse};
pub(crate) use values::Reader;
