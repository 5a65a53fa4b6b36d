//! Lives of one reading, each worked out once, beside the page that asks for it: most take some tens of
//! milliseconds, and a page must not wait for one that takes longer.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;

use lastvolt_core::circuit::NoPoint;
use lastvolt_core::progress::Progress;
use lastvolt_core::quantity::Temperature;
use lastvolt_core::time::{Bursts, Climate, Life, LifeRequest, life};

use crate::web::desk::Sound;

/// Lives that are kept of one reading.
const KEPT: usize = 256;

/// Which life is meant.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct LifeKey {
    /// The board.
    pub(crate) board: String,
    /// The profile.
    pub(crate) profile: Option<String>,
    /// The ambient in millidegrees; none for the usual climate of the family.
    pub(crate) ambient: Option<i32>,
    /// Positions of switches.
    pub(crate) positions: BTreeMap<String, String>,
}

/// A life, or why there is none.
pub(crate) type Solved = Arc<Result<Life, NoPoint>>;

/// Where a life comes to lie once it is worked out.
#[derive(Debug, Default)]
struct Slot {
    solved: Mutex<Option<Solved>>,
    there: Condvar,
}

impl Slot {
    fn put(&self, solved: Solved) {
        if let Ok(mut place) = self.solved.lock() {
            *place = Some(solved);
        }
        self.there.notify_all();
    }

    /// Waits for it so long at most.
    fn wait(&self, patience: Duration) -> Option<Solved> {
        let place = self.solved.lock().ok()?;
        let waited = self
            .there
            .wait_timeout_while(place, patience, |place| place.is_none());
        waited.ok()?.0.clone()
    }
}

/// The lives of one reading.
#[derive(Debug, Default)]
pub(crate) struct Lives {
    slots: Mutex<BTreeMap<LifeKey, Arc<Slot>>>,
}

/// Stops work on a reading that is not the newest any more.
struct WhileNewest<'a> {
    number: u64,
    newest: &'a AtomicU64,
}

impl Progress for WhileNewest<'_> {
    fn at(&self, _done: f64) {}

    fn cancelled(&self) -> bool {
        self.newest.load(Ordering::Relaxed) != self.number
    }
}

/// A life of a reading; none where it is not there within this time. The work goes on then.
pub(crate) fn life_within(sound: &Arc<Sound>, key: &LifeKey, patience: Duration) -> Option<Solved> {
    let (slot, is_first) = {
        let mut slots = sound.lives.slots.lock().ok()?;
        if KEPT <= slots.len() {
            slots.clear();
        }
        match slots.get(key) {
            Some(slot) => (Arc::clone(slot), false),
            None => {
                let slot = Arc::new(Slot::default());
                slots.insert(key.clone(), Arc::clone(&slot));
                (slot, true)
            }
        }
    };
    if is_first {
        let (sound, key, slot) = (Arc::clone(sound), key.clone(), Arc::clone(&slot));
        std::thread::spawn(move || {
            // A fault in one life must not keep those waiting who ask for it.
            let worked =
                std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| work_out(&sound, &key)));
            let fault = |_| {
                let what = "a life: a fault of the program".to_owned();
                Err(NoPoint::Unknown { what })
            };
            let solved = worked.unwrap_or_else(fault);
            // What was stopped on its way is no answer.
            if sound.newest.load(Ordering::Relaxed) == sound.number {
                slot.put(Arc::new(solved));
            }
        });
    }
    slot.wait(patience)
}

fn work_out(sound: &Sound, key: &LifeKey) -> Result<Life, NoPoint> {
    let model = &sound.family.model;
    let ambient = match key.ambient {
        None => Climate::usual(model),
        Some(milli) => Temperature::from_celsius(f64::from(milli) * 1e-3).into(),
    };
    let request = LifeRequest {
        family: model,
        board: &key.board,
        profile: key.profile.as_deref(),
        ambient,
        positions: key.positions.clone(),
        bursts: Bursts::Followed,
    };
    let progress = WhileNewest {
        number: sound.number,
        newest: &sound.newest,
    };
    life(&request, &progress)
}
