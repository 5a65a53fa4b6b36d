//! Tests of the whole: text in, answers out.

mod rules;
