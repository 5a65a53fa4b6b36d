//! Requests that no browser sends: the desk refuses them and goes on.

use super::super::http::{Line, get, is_silence, raw};
use super::super::served::Desk;
use super::is_well;
use crate::program::Folder;

/// A word that stands in files next to those of the family, and in no page.
const SECRET: &str = "what-nobody-may-read";

/// Paths that lead to no page.
const PATHS: [&str; 43] = [
    "/notes.txt",
    "/family.toml",
    "/coin.toml",
    "/../outside.txt",
    "/../../etc/passwd",
    "/./notes.txt",
    "/%2e%2e/outside.txt",
    "/%2e%2e%2foutside.txt",
    "/..%2foutside.txt",
    "/..%5coutside.txt",
    "/..\\outside.txt",
    "/assets/notes.txt",
    "/assets/../notes.txt",
    "/assets/..%2fnotes.txt",
    "/assets/%2e%2e%2fnotes.txt",
    "/assets/%2fetc%2fpasswd",
    "/assets/desk.css%00.txt",
    "/assets/",
    "/assets",
    "//etc/passwd",
    "///notes.txt",
    "/board/..",
    "/board/../notes.txt",
    "/board/%2e%2e%2foutside",
    "/board/coin.toml",
    "/board/coin%00",
    "/board/coin/",
    "/board/coin%2f..%2fcoin",
    "/board/%00",
    "/board/",
    "/board/%ff%fe",
    "/board/C:%5cnotes",
    "/stack/",
    "/stack/+",
    "/stack/++++",
    "/stack/coin+..",
    "/live/board/..",
    "/live/",
    "/panel/board/%2e%2e",
    "/drawing/board/none",
    "/curve/stack/none+coin",
    "/board/CON",
    "/.git/config",
];

#[test]
fn paths_lead_to_pages_and_never_to_files() {
    let around = Folder::new("doors-paths");
    let inside = around.path().join("family");
    std::fs::create_dir(&inside).expect("a folder");
    let at = |name: &str, text: &str| around.write(&format!("family/{name}"), text);
    at("family.toml", crate::program::FAMILY);
    at("coin.toml", crate::program::COIN);
    at("notes.txt", SECRET);
    around.write("outside.txt", SECRET);
    let mut desk = Desk::open(&inside);
    let absolute = format!("{}/notes.txt", inside.display());
    for path in PATHS.into_iter().chain([absolute.as_str()]) {
        let text = format!(
            "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\n\r\n",
            desk.port
        );
        let answer = raw(desk.port, text.as_bytes()).expect("an answer");
        assert!(
            matches!(answer.status, 400 | 404),
            "{path}: {}",
            answer.status
        );
        let body = answer.text();
        for never in [SECRET, "root:x:", "tiny-cell", "panicked"] {
            assert!(!body.contains(never), "{path} tells {never}: {body}");
        }
        // Where the folder lies is nobody's matter, except where the question says it already.
        let folder = inside.to_str().expect("UTF-8");
        assert!(path == absolute || !body.contains(folder), "{path}: {body}");
    }
    for path in [
        "/%3Cscript%3Ealert(1)%3C/script%3E",
        "/board/%22%3E%3Cb%3E",
        "/board/coin?select=part:%3Cb%3E%3Cscript%3E",
    ] {
        let body = get(desk.port, path).text();
        assert!(
            !body.contains("<script>") && !body.contains("<b>"),
            "{path}: {body}"
        );
    }
    is_well(&mut desk, "paths");
}

/// A request by what is wrong with it.
type Wrong = (&'static str, Vec<u8>);

/// More than anybody needs.
fn large(host: &str) -> Vec<Wrong> {
    let many: String = (0..5000).map(|n| format!("X-{n}: 1\r\n")).collect();
    vec![
        (
            "a long address",
            format!("GET /{} HTTP/1.1\r\n{host}\r\n", "a".repeat(9000)).into(),
        ),
        (
            "a longer address",
            format!("GET /{} HTTP/1.1\r\n{host}\r\n", "a".repeat(70_000)).into(),
        ),
        (
            "a huge address",
            format!("GET /{} HTTP/1.1\r\n{host}\r\n", "a".repeat(4 << 20)).into(),
        ),
        (
            "a long query",
            format!("GET /?{} HTTP/1.1\r\n{host}\r\n", "set=a%3Db&".repeat(2000)).into(),
        ),
        (
            "thousands of fields",
            format!("GET / HTTP/1.1\r\n{host}{many}\r\n").into(),
        ),
        (
            "a huge field",
            format!("GET / HTTP/1.1\r\n{host}X: {}\r\n\r\n", "a".repeat(4 << 20)).into(),
        ),
    ]
}

/// What is no request at all, or one of another protocol.
fn foreign(host: &str) -> Vec<Wrong> {
    vec![
        ("bytes", (0..=255u8).cycle().take(4096).collect()),
        ("nothing but zeros", vec![0; 4096]),
        (
            "the start of an encrypted line",
            b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03".to_vec(),
        ),
        (
            "the preface of HTTP/2",
            b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n".to_vec(),
        ),
        ("no version", b"GET /\r\n\r\n".to_vec()),
        (
            "another version",
            format!("GET / HTTP/3.7\r\n{host}\r\n").into(),
        ),
        ("no method", format!(" / HTTP/1.1\r\n{host}\r\n").into()),
    ]
}

/// Requests whose fields or addresses are not what they should be.
fn crooked(host: &str) -> Vec<Wrong> {
    vec![
        (
            "a field without a name",
            format!("GET / HTTP/1.1\r\n{host}: x\r\n\r\n").into(),
        ),
        (
            "a space before the colon",
            format!("GET / HTTP/1.1\r\n{host}X : y\r\n\r\n").into(),
        ),
        (
            "a zero in a field",
            format!("GET / HTTP/1.1\r\n{host}X: a\0b\r\n\r\n").into(),
        ),
        (
            "a zero in the path",
            format!("GET /\0 HTTP/1.1\r\n{host}\r\n").into(),
        ),
        (
            "a length below nothing",
            format!("POST / HTTP/1.1\r\n{host}Content-Length: -1\r\n\r\n").into(),
        ),
        (
            "two lengths",
            format!("POST / HTTP/1.1\r\n{host}Content-Length: 1\r\nContent-Length: 2\r\n\r\nab")
                .into(),
        ),
        (
            "a length beyond all",
            format!("POST / HTTP/1.1\r\n{host}Content-Length: 99999999999999999999999\r\n\r\n")
                .into(),
        ),
        (
            "a chunk beyond all",
            format!(
                "POST / HTTP/1.1\r\n{host}Transfer-Encoding: chunked\r\n\r\nfffffffffffffffff\r\n"
            )
            .into(),
        ),
        (
            "a connection to elsewhere",
            format!("CONNECT evil.example:443 HTTP/1.1\r\n{host}\r\n").into(),
        ),
        (
            "another scheme",
            format!("GET ftp://evil.example/ HTTP/1.1\r\n{host}\r\n").into(),
        ),
        (
            "another host in the address",
            format!("GET http://evil.example/ HTTP/1.1\r\n{host}\r\n").into(),
        ),
    ]
}

#[test]
fn malformed_requests_are_refused_and_the_desk_goes_on() {
    let folder = Folder::tiny("doors-malformed");
    let mut desk = Desk::open(folder.path());
    let host = format!("Host: 127.0.0.1:{}\r\n", desk.port);
    let cases = [large(&host), foreign(&host), crooked(&host)].concat();
    for (what, bytes) in cases {
        let status = status(&desk, &bytes);
        let fine = status.map_or(HANGS_UP.contains(&what), |s| (400..500).contains(&s));
        assert!(fine, "{what}: {status:?}");
        is_well(&mut desk, what);
    }
}

/// What is answered by hanging up, as no answer could be understood.
const HANGS_UP: [&str; 1] = ["the preface of HTTP/2"];

/// The status of the answer to bytes, none where the desk hung up.
fn status(desk: &Desk, bytes: &[u8]) -> Option<u16> {
    let mut line = Line::open(desk.port);
    // A desk that has refused already may hang up while the rest is still sent.
    let _ = line.send(bytes);
    match line.head() {
        Ok(answer) => Some(answer.status),
        Err(error) => {
            assert!(!is_silence(&error), "the desk neither answers nor hangs up");
            None
        }
    }
}

/// Half requests and silence hold nothing up; neither does hanging up in the middle.
#[test]
fn silence_holds_nobody_up() {
    let folder = Folder::tiny("doors-silence");
    let mut desk = Desk::open(folder.path());
    let mut silent = Vec::new();
    for at in 0..200 {
        let mut line = Line::open(desk.port);
        if at % 2 == 0 {
            line.send(b"GET / HTTP/1.1\r\nHost: 127")
                .expect("half a request");
        }
        silent.push(line);
    }
    is_well(&mut desk, "200 silent connections");
    drop(silent);
    is_well(&mut desk, "200 that hung up");
}

/// Requests that come together are answered one by one, in their order.
#[test]
fn requests_in_a_row_are_answered_in_their_order() {
    let folder = Folder::tiny("doors-row");
    let desk = Desk::open(folder.path());
    let mut line = Line::open(desk.port);
    let one = |path: &str| {
        format!(
            "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\n\r\n",
            desk.port
        )
    };
    let all = [
        "/assets/desk.css",
        "/none",
        "/live/board/coin",
        "/assets/desk.js",
    ]
    .map(one)
    .join("");
    line.send(all.as_bytes()).expect("sent");
    let kinds = [200, 404, 200, 200].map(|status| {
        let answer = line.answer().expect("an answer");
        assert_eq!(answer.status, status);
        answer.head("content-type").expect("a kind").to_owned()
    });
    for (kind, wanted) in kinds.iter().zip([
        "text/css",
        "text/html",
        "application/json",
        "text/javascript",
    ]) {
        assert!(kind.starts_with(wanted), "{kind}, not {wanted}");
    }
}

#[test]
fn the_older_protocol_is_answered_under_the_same_rules() {
    let folder = Folder::tiny("doors-older");
    let desk = Desk::open(folder.path());
    let status = |text: String| raw(desk.port, text.as_bytes()).map(|a| a.status);
    assert_eq!(
        status(format!(
            "GET / HTTP/1.0\r\nHost: 127.0.0.1:{}\r\n\r\n",
            desk.port
        )),
        Some(200)
    );
    assert_eq!(status("GET / HTTP/1.0\r\n\r\n".to_owned()), Some(421));
}
