//! Tests of the whole: text in, answers out.

mod awkward;
mod bad_input;
mod blocks;
mod burst;
mod contract;
mod figures;
mod fit;
mod guide;
mod markdown;
mod matrix;
mod merging;
mod odd;
mod order;
mod outputs;
mod page;
mod parts;
mod planted;
mod program;
mod rules;
mod schema;
mod schematic;
mod situations;
mod start;
mod units;
mod words;
