//! Lastvolt: circuit review for families of battery supply boards, from one folder of plain text.
//!
//! The binary is everything that touches the world: arguments, files, terminal, pictures, the report.
//! What is computed is computed by `lastvolt-core`; what is read is read by `lastvolt-input`.

mod cli;
mod draw;
mod failure;
mod fault;
mod output;
mod report;
mod scope;
mod text;
mod view;
mod web;

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(fault::guarded(cli::run))
}
