//! Faults of the program itself: one sentence for the user, exit status 3, no trace of the insides.

use std::panic;
use std::sync::Mutex;

use crate::failure::FAULT;
use crate::output::message;

/// What the last panic said.
static SAID: Mutex<Option<String>> = Mutex::new(None);

/// Runs a job; a panic in it becomes one sentence and the exit status of a fault.
pub(crate) fn guarded(job: fn() -> u8) -> u8 {
    panic::set_hook(Box::new(|info| {
        let place = info
            .location()
            .map(|l| format!("{}:{}", l.file(), l.line()));
        let payload = info.payload();
        let what = payload
            .downcast_ref::<&str>()
            .map(|s| (*s).to_owned())
            .or_else(|| payload.downcast_ref::<String>().cloned())
            .unwrap_or_default();
        let first = what.lines().next().unwrap_or_default();
        let said = format!("{first} at {}", place.unwrap_or_default());
        if let Ok(mut slot) = SAID.lock() {
            slot.get_or_insert(said);
        }
    }));
    panic::catch_unwind(job).unwrap_or_else(|_| {
        let said = SAID.lock().ok().and_then(|mut slot| slot.take());
        message(&sentence(&said.unwrap_or_default()));
        FAULT
    })
}

/// The sentence for a fault.
pub(crate) fn sentence(what: &str) -> String {
    format!(
        "lastvolt: internal fault ({what}); nothing was written, the input may be sound, please report this"
    )
}
