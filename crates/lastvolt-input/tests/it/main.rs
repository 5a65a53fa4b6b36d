//! Reads families from text and checks what is said about them.

mod examples;
