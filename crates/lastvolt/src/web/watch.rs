//! Watches the files of the family, so that a save in any editor reaches the pages.

use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::sync::{Arc, Weak};
use std::time::Duration;

use notify::{RecommendedWatcher, RecursiveMode, Watcher};

use crate::web::desk::Desk;

/// Editors write a file in several steps; what comes within this time is one change.
const SETTLES: Duration = Duration::from_millis(60);
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
    let mut watcher = notify::recommended_watcher(move |event| {
        let _ = tell.send(event);
    })
    .ok();
    let mut watched = BTreeSet::new();
    loop {
        let Some(desk) = weak.upgrade() else { return };
        follow(&desk, watcher.as_mut(), &mut watched);
        drop(desk);
        pause(&told);
        let Some(desk) = weak.upgrade() else { return };
        desk.refresh();
    }
}

/// Waits for a change and for the quiet after it, or for the next regular look.
fn pause<T>(told: &Receiver<T>) {
    match told.recv_timeout(LOOKS) {
        Ok(_) => while told.recv_timeout(SETTLES).is_ok() {},
        Err(RecvTimeoutError::Timeout) => {}
        // No watcher: the look is all there is.
        Err(RecvTimeoutError::Disconnected) => std::thread::sleep(LOOKS),
    }
}

/// Watches the folder and the folders of boards that lie deeper or elsewhere.
fn follow(desk: &Desk, watcher: Option<&mut RecommendedWatcher>, watched: &mut BTreeSet<PathBuf>) {
    let Some(watcher) = watcher else { return };
    let mut folders = BTreeSet::from([desk.folder.clone()]);
    let now = desk.now();
    let texts = match (&now.broken, &now.sound) {
        (Some(broken), _) => broken.texts.as_slice(),
        (None, Some(sound)) => sound.family.texts.as_slice(),
        (None, None) => &[],
    };
    for text in texts {
        let file = desk.folder.join(&text.name);
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
