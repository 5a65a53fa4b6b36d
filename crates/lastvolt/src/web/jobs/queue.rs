//! Which work waits, runs and is done. At most two run at once, each on a thread of its own; a newer
//! edition ends all that older ones have begun.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::{Duration, Instant};

use lastvolt_core::progress::Progress;

use crate::web::desk::{Desk, Sound};
use crate::web::jobs::work::Work;
use crate::web::news::News;

/// Work that runs at once.
const AT_ONCE: usize = 2;
/// Work of one edition that is kept.
const MOST: usize = 64;
/// Work that waits or runs at most.
const MOST_OPEN: usize = 8;
/// How often pages hear how far work is.
const PAUSE: Duration = Duration::from_millis(150);

/// All work.
#[derive(Default)]
pub(crate) struct Jobs {
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    last: u64,
    list: Vec<Arc<Job>>,
    running: usize,
}

/// One piece of work.
pub(super) struct Job {
    pub(super) id: u64,
    pub(super) work: Work,
    sound: Arc<Sound>,
    stop: AtomicBool,
    now: Mutex<Now>,
}

/// How it stands.
#[derive(Debug, Clone)]
pub(super) enum Now {
    Waiting,
    /// So much of it is done.
    Running(f64),
    /// Told to end, and not ended yet.
    Stopping,
    Stopped,
    /// Its answer as a piece of a page, or why there is none.
    Done(Result<String, String>),
}

impl Job {
    /// How it stands.
    pub(super) fn now(&self) -> Now {
        self.lock().clone()
    }

    fn lock(&self) -> MutexGuard<'_, Now> {
        match self.now.lock() {
            Ok(now) => now,
            Err(poisoned) => poisoned.into_inner(),
        }
    }

    fn is_open(&self) -> bool {
        matches!(*self.lock(), Now::Waiting | Now::Running(_))
    }
}

impl Jobs {
    fn lock(&self) -> MutexGuard<'_, State> {
        match self.state.lock() {
            Ok(state) => state,
            Err(poisoned) => poisoned.into_inner(),
        }
    }

    /// Work of an edition that belongs to a page, the oldest first.
    pub(super) fn of(&self, edition: u64, place: &str) -> Vec<Arc<Job>> {
        let state = self.lock();
        let own = state.list.iter();
        let own = own.filter(|j| j.sound.number == edition && j.work.place() == place);
        own.cloned().collect()
    }

    /// Begins work; the same that waits, runs or is done stands for it. None where too much waits.
    pub(super) fn start(&self, desk: &Arc<Desk>, sound: &Arc<Sound>, work: Work) -> Option<u64> {
        let id = {
            let mut state = self.lock();
            state.list.retain(|j| j.sound.number == sound.number);
            let same = |j: &&Arc<Job>| {
                j.work == work && (j.is_open() || matches!(j.now(), Now::Done(Ok(_))))
            };
            if let Some(known) = state.list.iter().find(same) {
                return Some(known.id);
            }
            if MOST_OPEN <= state.list.iter().filter(|j| j.is_open()).count() {
                return None;
            }
            // What was stopped or failed makes room for the same anew.
            state.list.retain(|j| j.work != work);
            if MOST <= state.list.len() {
                let ended = state.list.iter().position(|j| !j.is_open());
                ended.map(|at| state.list.remove(at));
            }
            state.last += 1;
            let id = state.last;
            state.list.push(Arc::new(Job {
                id,
                work,
                sound: Arc::clone(sound),
                stop: AtomicBool::new(false),
                now: Mutex::new(Now::Waiting),
            }));
            id
        };
        desk.tell(News::Worked { id });
        next(desk);
        Some(id)
    }

    /// Tells work to end; false where there is none of that number.
    pub(super) fn stop(&self, desk: &Desk, id: u64) -> bool {
        let found = self.lock().list.iter().find(|j| j.id == id).cloned();
        let Some(job) = found else { return false };
        job.stop.store(true, Ordering::Relaxed);
        {
            let mut now = job.lock();
            match *now {
                Now::Waiting => *now = Now::Stopped,
                Now::Running(_) => *now = Now::Stopping,
                Now::Stopping | Now::Stopped | Now::Done(_) => {}
            }
        }
        desk.tell(News::Worked { id });
        true
    }
}

/// Lets the oldest work that waits begin, while fewer run than may.
fn next(desk: &Arc<Desk>) {
    loop {
        let begun = {
            let mut state = desk.jobs.lock();
            let number = desk.now().number;
            let waits =
                |j: &&Arc<Job>| j.sound.number == number && matches!(*j.lock(), Now::Waiting);
            let job = state.list.iter().find(waits).cloned();
            let Some(job) = job.filter(|_| state.running < AT_ONCE) else {
                return;
            };
            *job.lock() = Now::Running(0.0);
            state.running += 1;
            job
        };
        desk.tell(News::Worked { id: begun.id });
        let desk = Arc::clone(desk);
        std::thread::spawn(move || run(&desk, &begun));
    }
}

fn run(desk: &Arc<Desk>, job: &Job) {
    let told = Told {
        desk,
        job,
        told: Mutex::new(None),
    };
    // A fault in the work must not take the desk with it.
    let worked = catch_unwind(AssertUnwindSafe(|| job.work.run(&job.sound, &told)));
    let fault = || {
        Some(Err(
            "the work met a fault of the program; please report this".to_owned(),
        ))
    };
    let answer = worked.unwrap_or_else(|_| fault());
    *job.lock() = match answer {
        Some(answer) => Now::Done(answer.map(maud::Markup::into_string)),
        None => Now::Stopped,
    };
    desk.jobs.lock().running -= 1;
    desk.tell(News::Worked { id: job.id });
    next(desk);
}

/// Tells pages how far work is, and stops it.
struct Told<'a> {
    desk: &'a Desk,
    job: &'a Job,
    told: Mutex<Option<Instant>>,
}

impl Progress for Told<'_> {
    fn at(&self, done: f64) {
        let furthest = {
            let mut now = self.job.lock();
            let Now::Running(before) = *now else { return };
            let furthest = before.max(done.clamp(0.0, 1.0));
            *now = Now::Running(furthest);
            furthest
        };
        let Ok(mut told) = self.told.lock() else {
            return;
        };
        let now = Instant::now();
        if told.is_none_or(|then| PAUSE <= now - then) {
            *told = Some(now);
            self.desk.tell(News::Work {
                id: self.job.id,
                done: furthest,
            });
        }
    }

    fn cancelled(&self) -> bool {
        self.job.stop.load(Ordering::Relaxed) || self.desk.now().number != self.job.sound.number
    }
}
