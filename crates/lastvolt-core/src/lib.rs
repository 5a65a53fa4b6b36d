//! Circuit, time and review engine of Lastvolt.
//!
//! Numbers in, numbers out: this crate knows the model of a family of battery supply boards and the
//! questions asked of it. It knows no files, no text formats, no terminal, no clock and no network.
//!
//! Modules depend on each other one way:
//! `quantity <- numerics <- device <- model <- circuit <- time <- fit <- deliver <- chance <- review`.

pub mod quantity;

pub mod numerics;

pub mod device;

pub mod model;

pub mod circuit;

pub mod time;

pub mod fit;

pub mod deliver;

pub mod chance;

pub mod review;

pub mod progress;
