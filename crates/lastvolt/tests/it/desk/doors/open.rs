//! A desk that is opened beyond its machine: reading needs the token as well.

use super::super::http::{ask, between, get};
use super::super::served::Desk;
use super::{is_well, lacking};
use crate::program::Folder;

#[test]
fn a_desk_open_beyond_its_machine_needs_the_token_for_reading() {
    let folder = Folder::tiny("doors-open");
    let desk = Desk::with(folder.path(), &["--port", "0", "--address", "0.0.0.0"]);
    let (port, own) = (desk.port, format!("127.0.0.1:{}", desk.port));
    assert!(desk.said.contains("not encrypted"), "{}", desk.said);
    let token = desk
        .link
        .split_once("/?token=")
        .expect("a token in the address")
        .1;
    for path in [
        "/",
        "/board/coin",
        "/assets/desk.js",
        "/live/board/coin",
        "/news",
        "/none",
    ] {
        let answer = get(port, path);
        assert_eq!(answer.status, 401, "{path}");
        assert_eq!(lacking(&answer), Vec::<&str>::new(), "{path}");
        assert!(!answer.text().contains(token), "{path}");
    }
    let short = &token[..47];
    for wrong in ["", "x", short, "%00"] {
        assert_eq!(
            get(port, &format!("/?token={wrong}")).status,
            401,
            "{wrong}"
        );
    }
    let entered = get(
        port,
        &format!("/board/coin?depth=0.4&token={token}&set=S1%3Doff"),
    );
    assert_eq!(entered.status, 303);
    assert_eq!(
        entered.head("location"),
        Some("/board/coin?depth=0.4&set=S1%3Doff")
    );
    let cookie = entered.head("set-cookie").expect("a cookie").to_owned();
    for wanted in ["HttpOnly", "SameSite=", "Path=/"] {
        assert!(cookie.contains(wanted), "{cookie}");
    }
    let cookie = cookie.split(';').next().expect("a cookie").to_owned();
    let with = |path: &str| {
        ask(
            port,
            "GET",
            path,
            &[("Host", &own), ("Cookie", &format!("a=b; {cookie}"))],
            "",
        )
    };
    assert_eq!(with("/board/coin").status, 200);
    assert_eq!(with("/assets/desk.js").status, 200);
    // A cookie comes along on its own; writing still needs the word that only the page knows.
    let heads = [
        ("Host", own.as_str()),
        ("Cookie", cookie.as_str()),
        ("Content-Type", "application/json"),
    ];
    assert_eq!(ask(port, "POST", "/edit/save", &heads, "{}").status, 403);
    let wrong = cookie.replace(&token[..4], "zzzz");
    assert_eq!(
        ask(port, "GET", "/", &[("Host", &own), ("Cookie", &wrong)], "").status,
        401
    );
    leads_home(port, token);
    let mut desk = desk;
    assert!(desk.runs());
}

/// The way in leads to this desk, whatever the path looks like.
fn leads_home(port: u16, token: &str) {
    for path in [
        "//evil.example/",
        "///evil.example",
        "/\\evil.example",
        "/\\/evil.example",
        "/%2f/evil.example",
        "/;//x",
    ] {
        let answer = get(port, &format!("{path}?token={token}"));
        let to = answer.head("location").unwrap_or("/");
        assert!(
            to.starts_with('/') && !to.starts_with("//") && !to.starts_with("/\\"),
            "{path} leads to {to}"
        );
    }
}

/// Local addresses at which a port is listened to, as the system lists them.
fn bound(port: u16) -> Vec<String> {
    let mut out = Vec::new();
    for list in ["/proc/net/tcp", "/proc/net/tcp6"] {
        let Ok(text) = std::fs::read_to_string(list) else {
            continue;
        };
        for line in text.lines().skip(1) {
            let words: Vec<&str> = line.split_whitespace().collect();
            let (address, at) = words[1].split_once(':').expect("an address and a port");
            // 0A is the state of a listening socket (Linux, include/net/tcp_states.h).
            if words[3] == "0A" && u16::from_str_radix(at, 16) == Ok(port) {
                out.push(address.to_owned());
            }
        }
    }
    out
}

#[test]
fn a_desk_listens_on_this_machine_alone() {
    let folder = Folder::tiny("doors-bound");
    let mut desk = Desk::open(folder.path());
    assert_eq!(bound(desk.port), ["0100007F"], "127.0.0.1 and no other");
    assert_eq!(between(&desk.link, "http://", ":"), Some("127.0.0.1"));
    assert!(!desk.link.contains("token"), "{}", desk.link);
    // The whole of 127.0.0.0/8 is this machine, and still another address.
    assert!(std::net::TcpStream::connect(("127.0.0.2", desk.port)).is_err());
    is_well(&mut desk, "a look at its address");
}
