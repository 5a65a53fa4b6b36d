//! One line of progress on a terminal, and nothing anywhere else.

use std::io::{IsTerminal, Write};
use std::sync::Mutex;
use std::time::{Duration, Instant};

use lastvolt_core::progress::Progress;

/// How long work stays silent, so that quick answers do not flicker.
const SILENT: Duration = Duration::from_millis(400);
/// How often the line is drawn at most.
const PAUSE: Duration = Duration::from_millis(100);
/// Cells of the bar.
const WIDTH: usize = 24;

/// A line on standard error that says how far the work has come.
#[derive(Debug)]
pub(crate) struct Line {
    what: &'static str,
    terminal: bool,
    state: Mutex<State>,
}

#[derive(Debug)]
struct State {
    began: Instant,
    drawn: Option<Instant>,
    /// The furthest so far: pieces of the work may report more than once from their beginning.
    furthest: f64,
}

impl Line {
    /// A line for this work.
    pub(crate) fn new(what: &'static str) -> Self {
        Self {
            what,
            terminal: std::io::stderr().is_terminal(),
            state: Mutex::new(State {
                began: Instant::now(),
                drawn: None,
                furthest: 0.0,
            }),
        }
    }
}

impl Progress for Line {
    fn at(&self, done: f64) {
        if !self.terminal {
            return;
        }
        let Ok(mut state) = self.state.lock() else {
            return;
        };
        state.furthest = state.furthest.max(done.clamp(0.0, 1.0));
        let done = state.furthest;
        let now = Instant::now();
        let due = match state.drawn {
            Some(drawn) => PAUSE <= now - drawn,
            None => SILENT <= now - state.began,
        };
        if due {
            state.drawn = Some(now);
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                clippy::cast_precision_loss,
                reason = "between 0 and the width"
            )]
            let full = (done * WIDTH as f64) as usize;
            let bar = format!("{}{}", "#".repeat(full), ".".repeat(WIDTH - full));
            let mut out = std::io::stderr().lock();
            // A terminal that takes no text shows no progress.
            let _ = write!(out, "\r{} [{bar}] {:3.0} %", self.what, done * 100.0);
            let _ = out.flush();
        }
    }

    fn cancelled(&self) -> bool {
        false
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        let drawn = self.state.lock().is_ok_and(|s| s.drawn.is_some());
        if drawn {
            let mut out = std::io::stderr().lock();
            let _ = write!(out, "\r{}\r", " ".repeat(self.what.len() + WIDTH + 9));
            let _ = out.flush();
        }
    }
}
