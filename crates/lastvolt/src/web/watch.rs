//! Watches the files of the family, so that a save in any editor reaches the pages.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::sync::{Arc, Weak};
use std::time::{Duration, Instant, SystemTime};

use lastvolt_input::board_files;
use notify::event::{AccessKind, AccessMode};
use notify::{Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};

use crate::cli::load::FAMILY_FILE;
use crate::web::desk::Desk;

/// Editors write a file in several steps; what comes within this time is one change.
const SETTLES: Duration = Duration::from_millis(60);
/// In a folder that never comes to rest the files are read at last.
const RESTLESS: Duration = Duration::from_millis(250);
/// Some drives tell nothing of their changes: the files are then looked at this often.
const LOOKS: Duration = Duration::from_millis(1000);

/// Watches until the desk is gone.
pub(crate) fn watch(desk: &Arc<Desk>) {
    let desk = Arc::downgrade(desk);
    std::thread::spawn(move || run(&desk));
}

fn run(weak: &Weak<Desk>) {
    let (tell, told) = channel();
    // Without a watcher the regular look remains.
    let heard = move |event: notify::Result<Event>| {
        if event.is_ok_and(|event| changes(event.kind)) {
            let _ = tell.send(());
        }
    };
    let mut watcher = notify::recommended_watcher(heard).ok();
    let mut watched = BTreeSet::new();
    let mut stamps = BTreeMap::new();
    loop {
        let Some(desk) = weak.upgrade() else { return };
        follow(&desk, watcher.as_mut(), &mut watched);
        drop(desk);
        let is_told = pause(&told);
        let Some(desk) = weak.upgrade() else { return };
        let now = stamps_of(&desk);
        if is_told || now != stamps {
            stamps = now;
            desk.refresh();
        }
    }
}

/// Whether something was written or moved; that a file was opened, as the desk itself does, is no news.
fn changes(kind: EventKind) -> bool {
    match kind {
        EventKind::Access(AccessKind::Close(AccessMode::Write)) => true,
        EventKind::Access(_) => false,
        _ => true,
    }
}

/// Waits for a change and for the quiet after it, or for the next regular look; whether there was a change.
fn pause(told: &Receiver<()>) -> bool {
    match told.recv_timeout(LOOKS) {
        Ok(()) => {
            let first = Instant::now();
            while told.recv_timeout(SETTLES).is_ok() && first.elapsed() < RESTLESS {}
            true
        }
        Err(RecvTimeoutError::Timeout) => false,
        // No watcher: the look is all there is.
        Err(RecvTimeoutError::Disconnected) => {
            std::thread::sleep(LOOKS);
            false
        }
    }
}

/// When a file was written and how long it is; none where it is not there.
type Stamp = Option<(SystemTime, u64)>;

/// The stamps of the files that were read last.
fn stamps_of(desk: &Desk) -> BTreeMap<PathBuf, Stamp> {
    let files = names(desk).into_iter().map(|name| desk.folder.join(name));
    let stamp = |file: &PathBuf| {
        let meta = std::fs::metadata(file).ok()?;
        Some((meta.modified().ok()?, meta.len()))
    };
    files.map(|file| (file.clone(), stamp(&file))).collect()
}

/// Names of the files of the newest edition, those too that could not be read.
fn names(desk: &Desk) -> BTreeSet<String> {
    let now = desk.now();
    let texts = match (&now.broken, &now.sound) {
        (Some(broken), _) => broken.texts.as_slice(),
        (None, Some(sound)) => sound.family.texts.as_slice(),
        (None, None) => &[],
    };
    let mut names: BTreeSet<String> = texts.iter().map(|t| t.name.clone()).collect();
    names.insert(FAMILY_FILE.to_owned());
    let head = texts.iter().find(|t| t.name == FAMILY_FILE);
    names.extend(head.into_iter().flat_map(|t| board_files(&t.text)));
    names
}

/// Watches the folder and the folders of boards that lie deeper or elsewhere.
fn follow(desk: &Desk, watcher: Option<&mut RecommendedWatcher>, watched: &mut BTreeSet<PathBuf>) {
    let Some(watcher) = watcher else { return };
    let mut folders = BTreeSet::from([desk.folder.clone()]);
    for name in names(desk) {
        let file = desk.folder.join(name);
        // A link is followed to where its file is written.
        for place in [Some(file.clone()), std::fs::canonicalize(&file).ok()] {
            let parent = place.as_deref().and_then(|p| p.parent());
            folders.extend(parent.map(PathBuf::from));
        }
    }
    for folder in folders {
        if !watched.contains(&folder) && watcher.watch(&folder, RecursiveMode::NonRecursive).is_ok()
        {
            watched.insert(folder);
        }
    }
}
