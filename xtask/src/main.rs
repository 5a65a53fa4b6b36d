//! Chores of the repository.
fn main() {}
