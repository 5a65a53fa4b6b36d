//! Tests of the whole: text in, answers out.

mod matrix;
mod planted;
mod rules;
