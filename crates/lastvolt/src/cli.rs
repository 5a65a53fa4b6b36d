//! The command line: one file a command, one line each in [`Command`] and [`run`].

mod accepts;
pub(crate) mod load;
mod options;
mod progress;
mod resolve;

mod burst;
mod check;
mod deliver;
mod desk;
mod fit;
mod life;
mod matrix;
mod new;
mod parts;
mod point;
mod review;
mod schema;
mod schematic;
mod walk;

use clap::{Parser, Subcommand};

use crate::failure::{BAD_INPUT, FINE, Failure};
use crate::output::{message, print};
use crate::text::diagnostic;
use crate::text::paint::Paint;
use options::Format;

/// Circuit review for families of battery supply boards, from one folder of plain text.
#[derive(Debug, Parser)]
#[command(name = "lastvolt", version, max_term_width = 100)]
#[command(
    after_help = "Exit status: 0 fine, 1 findings (check and review), 2 bad input, 3 internal fault.\n\
    All figures are estimates; they do not replace data sheets, tests on built units or local codes."
)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    New(new::Args),
    Point(point::Args),
    Matrix(matrix::Args),
    Burst(burst::Args),
    Life(life::Args),
    Deliver(deliver::Args),
    Fit(fit::Args),
    Parts(parts::Args),
    Check(check::Args),
    Review(review::Args),
    Schematic(schematic::Args),
    Walk(walk::Args),
    Schema(schema::Args),
    Desk(desk::Args),
}

impl Command {
    fn run(&self) -> Result<u8, Failure> {
        match self {
            Self::New(args) => new::run(args),
            Self::Point(args) => point::run(args),
            Self::Matrix(args) => matrix::run(args),
            Self::Burst(args) => burst::run(args),
            Self::Life(args) => life::run(args),
            Self::Deliver(args) => deliver::run(args),
            Self::Fit(args) => fit::run(args),
            Self::Parts(args) => parts::run(args),
            Self::Check(args) => check::run(args),
            Self::Review(args) => review::run(args),
            Self::Schematic(args) => schematic::run(args),
            Self::Walk(args) => walk::run(args),
            Self::Schema(args) => schema::run(args),
            Self::Desk(args) => desk::run(args),
        }
    }
}

/// Runs the program on its arguments and gives the exit status.
pub(crate) fn run() -> u8 {
    let args: Vec<std::ffi::OsString> = std::env::args_os().collect();
    let json = wants_json(&args);
    match Cli::try_parse_from(&args) {
        Ok(cli) => cli
            .command
            .run()
            .unwrap_or_else(|failure| report(&failure, json)),
        Err(error) => usage(&error, json),
    }
}

/// Whether JSON is asked for, also where the rest of the command line makes no sense.
fn wants_json(args: &[std::ffi::OsString]) -> bool {
    let mut args = args.iter().filter_map(|a| a.to_str()).peekable();
    while let Some(arg) = args.next() {
        let value = match arg {
            "--" => return false,
            "--format" => args.peek().copied(),
            other => other.strip_prefix("--format="),
        };
        if value == Some(Format::JSON) {
            return true;
        }
    }
    false
}

/// What the parser of the command line has to say: help, version or a mistake.
fn usage(error: &clap::Error, json: bool) -> u8 {
    if !error.use_stderr() {
        // Help and version; a closed pipe is no error.
        let _ = error.print();
        return FINE;
    }
    if json {
        let says = error.to_string();
        let says = says.lines().next().unwrap_or_default();
        let says = says.strip_prefix("error: ").unwrap_or(says);
        report(&Failure::of_option("usage", says, None), true);
    } else {
        let _ = error.print();
    }
    BAD_INPUT
}

fn report(failure: &Failure, json: bool) -> u8 {
    match failure {
        Failure::Closed => {}
        Failure::Fault(what) => message(&crate::fault::sentence(what)),
        Failure::Input { problems, .. } if json => {
            // Nobody is left to tell if standard output is closed.
            let _ = print(&diagnostic::json(problems));
        }
        Failure::Input { problems, texts } => {
            let paint = Paint::for_stderr();
            message(diagnostic::text(problems, texts, paint).trim_end());
        }
    }
    failure.status()
}

/// Shows slips in the files that do not keep a command from answering.
fn show_slips(family: &load::Family) {
    if !family.slips.is_empty() {
        let paint = Paint::for_stderr();
        message(diagnostic::text(&family.slips, &family.texts, paint).trim_end());
    }
}
