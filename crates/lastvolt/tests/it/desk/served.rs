//! A desk that runs for one test and ends with it.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// No start takes this long.
const STARTS: Duration = Duration::from_secs(60);

/// A running desk; killed when the value is gone, also when the test fails.
pub(crate) struct Desk {
    child: Child,
    lines: Receiver<String>,
    /// What it said until it gave its address.
    pub(crate) said: String,
    /// The address that it printed.
    pub(crate) link: String,
    /// Its port.
    pub(crate) port: u16,
}

impl Desk {
    /// Opens a folder at any free port.
    pub(crate) fn open(folder: &Path) -> Self {
        Self::with(folder, &["--port", "0"])
    }

    /// Opens a folder with options.
    pub(crate) fn with(folder: &Path, options: &[&str]) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_lastvolt"));
        command
            .arg("desk")
            .arg(folder)
            .arg("--no-open")
            .args(options);
        command
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped());
        let mut child = command.spawn().expect("the program starts");
        let lines = read(&mut child);
        let mut desk = Self {
            child,
            lines,
            said: String::new(),
            link: String::new(),
            port: 0,
        };
        desk.wait_for_address();
        desk
    }

    fn wait_for_address(&mut self) {
        let until = Instant::now() + STARTS;
        while self.link.is_empty() {
            let left = until.saturating_duration_since(Instant::now());
            let line = self.lines.recv_timeout(left);
            let line = line.unwrap_or_else(|_| panic!("no address from the desk:\n{}", self.said));
            if let Some((_, link)) = line.split_once("the desk is at ") {
                link.trim().clone_into(&mut self.link);
            }
            self.said += &line;
            self.said.push('\n');
        }
        let authority = self.link.split('/').nth(2).expect("an address");
        let port = authority.rsplit(':').next().expect("a port");
        self.port = port.parse().expect("a port");
    }

    /// The address of a page.
    pub(crate) fn url(&self, path: &str) -> String {
        format!("http://127.0.0.1:{}{path}", self.port)
    }

    /// Whether it still runs.
    pub(crate) fn runs(&mut self) -> bool {
        self.child.try_wait().expect("a state").is_none()
    }

    /// Sends a signal by its name and waits for the end: how it ended, how long that took, what it said.
    pub(crate) fn signal(mut self, name: &str) -> (ExitStatus, Duration, String) {
        let id = self.child.id().to_string();
        let sent = Command::new("kill")
            .args([&format!("-{name}"), &id])
            .status();
        assert!(sent.expect("kill is there").success());
        let since = Instant::now();
        let ended = loop {
            if let Some(ended) = self.child.try_wait().expect("a state") {
                break ended;
            }
            assert!(since.elapsed() < STARTS, "the desk does not end");
            std::thread::sleep(Duration::from_millis(5));
        };
        let took = since.elapsed();
        let last: Vec<String> = self.lines.iter().collect();
        (ended, took, last.join("\n"))
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The lines of its standard error as they come.
fn read(child: &mut Child) -> Receiver<String> {
    let (tell, told) = channel();
    let errors = child.stderr.take().expect("standard error");
    std::thread::spawn(move || {
        for line in BufReader::new(errors).lines().map_while(Result::ok) {
            // A test that no longer listens has ended.
            if tell.send(line).is_err() {
                return;
            }
        }
    });
    told
}
