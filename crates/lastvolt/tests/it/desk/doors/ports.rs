//! Start and end: the port that is taken, the signal that ends, the start that fails.

use std::net::TcpListener;
use std::process::Stdio;
use std::time::{Duration, Instant};

use super::super::http::Line;
use super::super::served::Desk;
use crate::program::{Folder, command};

/// An end takes at most this long.
const ENDS: Duration = Duration::from_secs(2);

#[test]
fn signals_end_it_at_once_with_open_lines() {
    let folder = Folder::tiny("doors-end");
    for signal in ["INT", "TERM"] {
        let desk = Desk::open(folder.path());
        let host = format!("Host: 127.0.0.1:{}\r\n\r\n", desk.port);
        let mut lines = Vec::new();
        for at in 0..20 {
            let mut line = Line::open(desk.port);
            match at % 4 {
                // A page that follows the news.
                0 => {
                    line.send(format!("GET /news HTTP/1.1\r\n{host}").as_bytes())
                        .expect("sent");
                    assert_eq!(line.head().expect("a head").status, 200);
                }
                // A connection that is kept.
                1 => drop(line.get("/assets/desk.js").expect("an answer")),
                // Half a request.
                2 => line.send(b"GET / HT").expect("sent"),
                _ => {}
            }
            lines.push(line);
        }
        let (ended, took, last) = desk.signal(signal);
        assert_eq!(ended.code(), Some(0), "{signal}: {last}");
        assert!(took < ENDS, "{signal}: {took:?}");
        assert!(last.contains("the desk is closed"), "{last}");
    }
}

#[test]
fn a_port_that_is_taken_is_passed_over_and_said() {
    let folder = Folder::tiny("doors-taken");
    let taken = TcpListener::bind("127.0.0.1:0").expect("a port");
    let port = taken.local_addr().expect("its address").port();
    let desk = Desk::with(folder.path(), &["--port", &port.to_string()]);
    assert!(
        desk.said.contains(&format!("port {port} is taken")),
        "{}",
        desk.said
    );
    assert!(port < desk.port, "{} after {port}", desk.port);
    let other = Desk::with(folder.path(), &["--port", &desk.port.to_string()]);
    assert_ne!(other.port, desk.port);
    for desk in [&desk, &other] {
        assert_eq!(
            Line::open(desk.port).get("/").expect("an answer").status,
            200
        );
    }
}

/// Starts a desk that is expected to end at once: its status and what it said.
fn ended(args: &[&str]) -> (Option<i32>, String) {
    let mut command = command(&["desk", "--no-open"]);
    command
        .args(args)
        .stdout(Stdio::null())
        .stderr(Stdio::piped());
    let mut child = command.spawn().expect("it starts");
    let until = Instant::now() + Duration::from_secs(30);
    while child.try_wait().expect("a state").is_none() && Instant::now() < until {
        std::thread::sleep(Duration::from_millis(5));
    }
    let status = child.try_wait().expect("a state").and_then(|s| s.code());
    // One that serves after all is ended here, and told apart by its status.
    let _ = child.kill();
    let said = child.wait_with_output().expect("its words").stderr;
    (status, String::from_utf8_lossy(&said).into_owned())
}

#[test]
fn what_cannot_be_served_is_said() {
    let folder = Folder::tiny("doors-start");
    let missing = folder.path().join("no-such-folder");
    let file = folder.path().join("none.toml");
    let (missing, file) = (
        missing.to_str().expect("UTF-8"),
        file.to_str().expect("UTF-8"),
    );
    // An address of documentation (RFC 5737) is no address of this machine.
    let far = [folder.arg(), "--address", "192.0.2.1"];
    let cases: [(&[&str], &str); 6] = [
        (&[missing], "no-such-folder"),
        (&["no-such-folder"], "no-such-folder"),
        (&[file], "none.toml"),
        (&far, "192.0.2.1"),
        (&[folder.arg(), "--port", "70000"], "70000"),
        (&[folder.arg(), "--address", "everywhere"], "everywhere"),
    ];
    for (args, wanted) in cases {
        let (status, said) = ended(args);
        assert_eq!(status, Some(2), "{args:?}: {said}");
        assert!(said.contains(wanted), "{args:?}: {said}");
    }
}
