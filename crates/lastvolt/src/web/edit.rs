//! Values changed in place: what a form shows, what a change would do, and how it is written back.
//!
//! A change replaces the bytes of one value where it stands, or adds or drops one entry; every other byte
//! of the file stays as it is. The files are the truth: a change rests on what its form was made from, and
//! is refused where the file says something else by now.

mod ask;
mod check;
mod disk;
mod form;
mod history;
mod locate;
mod nearby;
mod owner;
mod preview;
mod quote;
mod routes;
mod save;
mod sequence;
mod splice;

#[cfg(test)]
mod tests;

pub(crate) use form::{history_bar, load_form, part_form, task_form};
pub(crate) use history::Edits;
pub(crate) use routes::routes;
