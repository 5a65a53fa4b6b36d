//! Start and end: the port that is taken, the signal that ends, the start that fails.

use std::net::TcpListener;
use std::time::Duration;

use super::super::http::Line;
use super::super::served::Desk;
use crate::program::{Folder, command, run};

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
                    line.send(format!("GET /news HTTP/1.1\r\n{host}").as_bytes()).expect("sent");
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
    assert!(desk.said.contains(&format!("port {port} is taken")), "{}", desk.said);
    assert!(port < desk.port, "{} after {port}", desk.port);
    let other = Desk::with(folder.path(), &["--port", &desk.port.to_string()]);
    assert_ne!(other.port, desk.port);
    for desk in [&desk, &other] {
        assert_eq!(Line::open(desk.port).get("/").expect("an answer").status, 200);
    }
}

#[test]
fn what_cannot_be_served_is_said() {
    let none = run(&["desk", "no-such-folder", "--no-open"]);
    assert_eq!(none.status, 2, "{}", none.err);
    assert!(none.err.contains("no-such-folder"), "{}", none.err);
    let folder = Folder::tiny("doors-start");
    // An address of documentation (RFC 5737) is no address of this machine.
    let far = run(&["desk", folder.arg(), "--no-open", "--address", "192.0.2.1"]);
    assert_eq!(far.status, 2, "{}", far.err);
    assert!(far.err.contains("192.0.2.1"), "{}", far.err);
    for wrong in [["--port", "70000"], ["--address", "everywhere"]] {
        let output = command(&["desk", folder.arg(), "--no-open"]).args(wrong).output().expect("it starts");
        assert_eq!(output.status.code(), Some(2), "{wrong:?}");
    }
}
