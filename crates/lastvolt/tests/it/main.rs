//! Tests of the whole: text in, answers out.

mod matrix;
mod rules;
