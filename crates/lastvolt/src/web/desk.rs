//! What the desk knows: the folder, its newest reading, and what was worked out from that.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, OnceLock, RwLock};

use lastvolt_input::{Diagnostic, Text};
use tokio::sync::broadcast;

use crate::cli::load::{Family, load};
use crate::failure::Failure;
use crate::web::burst::Waves;
use crate::web::jobs::Jobs;
use crate::web::lives::Lives;
use crate::web::news::News;
use crate::web::reviewed::{self, Reviewed};

/// News that a slow page may be behind; it then asks for the whole page.
const NEWS_KEPT: usize = 256;

/// What the desk knows.
pub(crate) struct Desk {
    /// The folder, its links followed.
    pub(crate) folder: PathBuf,
    /// Word that a page shows when it writes.
    pub(crate) token: String,
    now: RwLock<Arc<Edition>>,
    newest: Arc<AtomicU64>,
    reading: Mutex<()>,
    news: broadcast::Sender<News>,
    /// Long work, in the background.
    pub(crate) jobs: Jobs,
}

/// One reading of the folder.
pub(crate) struct Edition {
    /// Grows with every reading that found something new.
    pub(crate) number: u64,
    /// The last family that could be read; of this edition where nothing is broken.
    pub(crate) sound: Option<Arc<Sound>>,
    /// What keeps the files from being read now.
    pub(crate) broken: Option<Broken>,
}

/// Files that cannot be read as a family.
pub(crate) struct Broken {
    /// What is wrong.
    pub(crate) problems: Vec<Diagnostic>,
    /// The texts as far as they were read.
    pub(crate) texts: Vec<Text>,
}

/// A family that was read, and what was worked out from it so far.
pub(crate) struct Sound {
    /// The edition that read it.
    pub(crate) number: u64,
    /// The family.
    pub(crate) family: Family,
    /// The review, once it is there.
    pub(crate) reviewed: OnceLock<Result<Reviewed, String>>,
    /// Lives that pages asked for.
    pub(crate) lives: Lives,
    /// The number of the newest edition, to know when work is for nothing.
    pub(crate) newest: Arc<AtomicU64>,
    /// Waveforms that were followed.
    pub(crate) waves: Waves,
}

impl Desk {
    /// Opens a folder; its files may be broken, but it must be there.
    ///
    /// # Errors
    /// The folder cannot be opened.
    pub(crate) fn open(dir: &Path, token: String) -> Result<Arc<Self>, Failure> {
        let first = load(dir);
        let folder = folder(dir)?;
        let (news, _) = broadcast::channel(NEWS_KEPT);
        let newest = Arc::new(AtomicU64::new(1));
        let desk = Arc::new(Self {
            folder,
            token,
            now: RwLock::new(Arc::new(edition(1, &newest, first, None))),
            newest,
            reading: Mutex::default(),
            news,
            jobs: Jobs::default(),
        });
        desk.review();
        Ok(desk)
    }

    /// The newest reading.
    pub(crate) fn now(&self) -> Arc<Edition> {
        match self.now.read() {
            Ok(now) => Arc::clone(&now),
            Err(poisoned) => Arc::clone(&poisoned.into_inner()),
        }
    }

    /// Number of the newest edition that could be read.
    pub(crate) fn newest(&self) -> u64 {
        self.newest.load(Ordering::Relaxed)
    }

    /// News from now on.
    pub(crate) fn listen(&self) -> broadcast::Receiver<News> {
        self.news.subscribe()
    }

    /// How many pages listen.
    pub(crate) fn listeners(&self) -> usize {
        self.news.receiver_count()
    }

    /// Tells every page.
    pub(crate) fn tell(&self, news: News) {
        // Nobody listens where no page is open.
        let _ = self.news.send(news);
    }

    /// Reads the folder again; a new edition comes out of it where anything has changed.
    pub(crate) fn refresh(self: &Arc<Self>) -> u64 {
        // One after the other: what was read first must not come out last.
        let _reading = self.reading.lock();
        let read = load(&self.folder);
        let number = {
            let mut now = match self.now.write() {
                Ok(now) => now,
                Err(poisoned) => poisoned.into_inner(),
            };
            if is_same(&now, &read) {
                return now.number;
            }
            let number = now.number + 1;
            if read.is_ok() {
                // While files are broken, work on the last that could be read goes on.
                self.newest.store(number, Ordering::Relaxed);
            }
            let next = edition(number, &self.newest, read, now.sound.clone());
            *now = Arc::new(next);
            number
        };
        self.tell(News::Edition { number });
        self.review();
        number
    }

    /// Reviews the newest family beside everything else, until a newer one comes.
    fn review(self: &Arc<Self>) {
        let now = self.now();
        let Some(sound) = now.sound.as_ref().filter(|s| s.number == now.number) else {
            return;
        };
        let (desk, sound) = (Arc::clone(self), Arc::clone(sound));
        std::thread::spawn(move || reviewed::work(&desk, &sound));
    }
}

/// The folder of a family, its links followed.
fn folder(dir: &Path) -> Result<PathBuf, Failure> {
    // What was never there is a slip of the command line, not a file that will come back.
    let found = std::fs::metadata(dir).and_then(|_| {
        let around = dir.parent().filter(|p| !p.as_os_str().is_empty());
        let folder = if dir.is_dir() { Some(dir) } else { around };
        std::fs::canonicalize(folder.unwrap_or(Path::new(".")))
    });
    found.map_err(|error| {
        let says = format!(
            "`{}` cannot be opened: {}",
            dir.display(),
            crate::output::plain(&error)
        );
        Failure::of_file("missing-family", &crate::output::shown(dir), says)
    })
}

/// The newest edition, from what was read and the sound one before.
fn edition(
    number: u64,
    newest: &Arc<AtomicU64>,
    read: Result<Family, Failure>,
    before: Option<Arc<Sound>>,
) -> Edition {
    match read {
        Ok(family) => Edition {
            number,
            sound: Some(Arc::new(Sound {
                number,
                family,
                reviewed: OnceLock::new(),
                lives: Lives::default(),
                waves: Waves::default(),
                newest: Arc::clone(newest),
            })),
            broken: None,
        },
        Err(failure) => {
            let (problems, texts) = match failure {
                Failure::Input { problems, texts } => (problems, texts),
                Failure::Fault(what) => {
                    let says = crate::fault::sentence(&what);
                    (vec![Diagnostic::of_file("fault", "", says)], Vec::new())
                }
                Failure::Closed => (Vec::new(), Vec::new()),
            };
            Edition {
                number,
                sound: before,
                broken: Some(Broken { problems, texts }),
            }
        }
    }
}

/// Whether a reading found what the edition has already.
fn is_same(now: &Edition, read: &Result<Family, Failure>) -> bool {
    match (&now.broken, read) {
        (None, Ok(family)) => {
            let known = now.sound.as_ref().map(|s| &s.family.texts);
            known == Some(&family.texts)
        }
        (Some(broken), Err(Failure::Input { problems, texts })) => {
            broken.problems == *problems && broken.texts == *texts
        }
        _ => false,
    }
}
