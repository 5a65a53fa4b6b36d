//! A desk for tests: a family in a folder of its own, served on a free port of this machine.

use std::io::{Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use tokio::runtime::Runtime;
use tokio::sync::watch;

use crate::web::desk::Desk;
use crate::web::edit::Edits;
use crate::web::guard::{Door, Rate};
use crate::web::server::{Service, router};

static FOLDERS: AtomicU32 = AtomicU32::new(0);

/// A desk that is served while the value lives.
pub(super) struct Tried {
    pub(super) desk: Arc<Desk>,
    pub(super) folder: PathBuf,
    address: SocketAddr,
    _closing: watch::Sender<bool>,
    _runtime: Runtime,
}

/// Status and body of an answer.
pub(super) struct Answer {
    pub(super) status: u16,
    pub(super) body: String,
}

impl Tried {
    /// The example family, copied.
    pub(super) fn example() -> Self {
        let number = FOLDERS.fetch_add(1, Ordering::Relaxed);
        let name = format!("lastvolt-desk-{}-{number}", std::process::id());
        let folder = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&folder).expect("a folder for the test");
        let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/frost-beacon");
        for file in std::fs::read_dir(from).expect("the example").flatten() {
            std::fs::copy(file.path(), folder.join(file.file_name())).expect("a copy");
        }
        let desk = Desk::open(&folder, "word".to_owned()).expect("a desk");
        let runtime = Runtime::new().expect("threads");
        let listener = runtime.block_on(tokio::net::TcpListener::bind("127.0.0.1:0"));
        let listener = listener.expect("a free port");
        let address = listener.local_addr().expect("its address");
        let (closing, closed) = watch::channel(false);
        let service = Arc::new(Service {
            desk: Arc::clone(&desk),
            door: Door::new(address),
            rate: Rate::new(),
            edits: Edits::default(),
            closing: closed,
        });
        runtime.spawn(async move { axum::serve(listener, router(service)).await });
        Self {
            desk,
            folder,
            address,
            _closing: closing,
            _runtime: runtime,
        }
    }

    pub(super) fn get(&self, path: &str) -> Answer {
        self.ask(&format!("GET {path} HTTP/1.1\r\n"), "")
    }

    /// Writes, with the token.
    pub(super) fn post(&self, path: &str, body: &str) -> Answer {
        let head = format!(
            "POST {path} HTTP/1.1\r\nx-lastvolt-token: word\r\ncontent-type: application/json\r\ncontent-length: {}\r\n",
            body.len()
        );
        self.ask(&head, body)
    }

    pub(super) fn ask(&self, head: &str, body: &str) -> Answer {
        let mut line = TcpStream::connect(self.address).expect("the desk answers");
        let whole = format!(
            "{head}host: {}\r\nconnection: close\r\n\r\n{body}",
            self.address
        );
        line.write_all(whole.as_bytes()).expect("a request");
        let mut text = Vec::new();
        line.read_to_end(&mut text).expect("an answer");
        let text = String::from_utf8(text).expect("text");
        let (head, body) = text.split_once("\r\n\r\n").expect("a head");
        let status = head
            .split(' ')
            .nth(1)
            .and_then(|s| s.parse().ok())
            .expect("a status");
        Answer {
            status,
            body: body.to_owned(),
        }
    }

    /// Waits until something holds, for minutes where the machine is busy.
    pub(super) fn until(what: &str, mut holds: impl FnMut() -> bool) {
        let begun = Instant::now();
        while !holds() {
            assert!(begun.elapsed() < Duration::from_secs(300), "{what}");
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

impl Drop for Tried {
    fn drop(&mut self) {
        // What is left in the folder for temporary files is cleaned by the system.
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}
