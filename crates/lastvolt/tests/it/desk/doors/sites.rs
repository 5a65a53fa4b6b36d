//! Names, origins and the token: who may read, who may write, and that nothing leads elsewhere.

use super::super::http::{Answer, Line, ask, get, post, token};
use super::super::served::Desk;
use super::lacking;
use crate::program::Folder;

#[test]
fn only_own_names_and_own_pages_are_answered() {
    let folder = Folder::tiny("doors-names");
    let desk = Desk::open(folder.path());
    let port = desk.port;
    let own = format!("127.0.0.1:{port}");
    let status = |heads: &[(&str, &str)]| ask(port, "GET", "/", heads, "").status;
    for name in ["127.0.0.1", "localhost", "LocalHost", "[::1]"] {
        assert_eq!(
            status(&[("Host", &format!("{name}:{port}"))]),
            200,
            "{name}"
        );
    }
    for name in [
        "evil.example".to_owned(),
        format!("evil.example:{port}"),
        format!("127.0.0.1.evil.example:{port}"),
        format!("evil.example@127.0.0.1:{port}"),
        format!("127.0.0.2:{port}"),
        format!("0.0.0.0:{port}"),
        "127.0.0.1".to_owned(),
        "127.0.0.1:1".to_owned(),
        String::new(),
    ] {
        assert_eq!(status(&[("Host", &name)]), 421, "{name:?}");
    }
    assert_eq!(status(&[]), 421, "no name at all");
    assert_eq!(status(&[("Host", &own), ("Host", "evil.example")]), 421);
    assert_eq!(status(&[("Host", &own), ("Host", &own)]), 421);

    let from = |origin: &str| status(&[("Host", &own), ("Origin", origin)]);
    assert_eq!(from(&format!("http://{own}")), 200);
    for origin in [
        "null".to_owned(),
        "http://evil.example".to_owned(),
        format!("http://evil.example:{port}"),
        format!("https://{own}"),
        format!("http://{own}.evil.example"),
        format!("http://localhost:{port}"),
        "http://127.0.0.1".to_owned(),
        String::new(),
    ] {
        assert_eq!(from(&origin), 403, "{origin:?}");
    }
}

/// As the Fetch Metadata headers of browsers tell (W3C, Fetch Metadata Request Headers).
#[test]
fn other_sites_may_link_here_and_do_nothing_else() {
    let folder = Folder::tiny("doors-sites");
    let desk = Desk::open(folder.path());
    let own = format!("127.0.0.1:{}", desk.port);
    let told = |method: &str, site: &str, mode: &str, kind: &str| {
        let heads = [
            ("Host", own.as_str()),
            ("Sec-Fetch-Site", site),
            ("Sec-Fetch-Mode", mode),
            ("Sec-Fetch-Dest", kind),
        ];
        ask(desk.port, method, "/board/coin", &heads, "").status
    };
    for site in ["same-origin", "none"] {
        assert_eq!(told("GET", site, "cors", "empty"), 200, "{site}");
    }
    for site in ["cross-site", "same-site"] {
        assert_eq!(told("GET", site, "navigate", "document"), 200, "{site}");
        for (method, mode, kind) in [
            ("GET", "cors", "empty"),
            ("GET", "no-cors", "image"),
            ("GET", "no-cors", "script"),
            ("GET", "navigate", "iframe"),
            ("GET", "navigate", "embed"),
            ("POST", "navigate", "document"),
        ] {
            assert_eq!(
                told(method, site, mode, kind),
                403,
                "{site} {method} {mode} {kind}"
            );
        }
    }
}

#[test]
fn writing_needs_the_token_and_json_and_little_of_it() {
    let folder = Folder::tiny("doors-token");
    let desk = Desk::open(folder.path());
    let port = desk.port;
    let own = format!("127.0.0.1:{port}");
    let word = token(port);
    assert_eq!(word.len(), 48, "{word}");
    let before = folder.names();
    let status = |heads: &[(&str, &str)], body: &str| {
        let mut all = vec![("Host", own.as_str())];
        all.extend(heads);
        ask(port, "POST", "/edit/save", &all, body).status
    };
    let json = ("Content-Type", "application/json");
    assert_eq!(status(&[json], "{}"), 403, "no token");
    assert_eq!(status(&[json, ("x-lastvolt-token", "")], "{}"), 403);
    let mut wrong = word.clone().into_bytes();
    let last = wrong.last_mut().expect("a letter");
    *last = if *last == b'0' { b'1' } else { b'0' };
    let wrong = String::from_utf8(wrong).expect("letters");
    assert_eq!(
        status(&[json, ("x-lastvolt-token", &wrong)], "{}"),
        403,
        "one letter differs"
    );
    assert_eq!(
        status(&[json, ("x-lastvolt-token", &word[..47])], "{}"),
        403,
        "one letter less"
    );
    let shown = ("x-lastvolt-token", word.as_str());
    for kind in [
        "text/plain",
        "application/x-www-form-urlencoded",
        "multipart/form-data",
        "application/jsonp",
    ] {
        assert_eq!(
            status(&[("Content-Type", kind), shown], "{}"),
            415,
            "{kind}"
        );
    }
    assert_eq!(status(&[shown], "{}"), 415, "no kind");
    let much = " ".repeat((1 << 20) + 1);
    assert_eq!(status(&[json, shown], &much), 413);
    let origin = ("Origin", "http://evil.example");
    assert_eq!(
        status(&[json, shown, origin], "{}"),
        403,
        "another site with the token"
    );
    // What passes the door is not JSON, or nothing that can be saved.
    let passed = post(port, "/edit/save", &word, "no json");
    assert!(
        (400..500).contains(&passed.status) && passed.status != 403,
        "{passed:?}"
    );
    for method in ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"] {
        assert_eq!(
            ask(port, method, "/", &[("Host", &own)], "").status,
            405,
            "{method}"
        );
    }
    assert_eq!(folder.names(), before, "nothing was written");
}

/// A body without an end is cut at the largest that is taken.
#[test]
fn an_endless_body_ends() {
    let folder = Folder::tiny("doors-endless");
    let mut desk = Desk::open(folder.path());
    let word = token(desk.port);
    for path in ["/edit/save", "/edit/try", "/edit/preview"] {
        let mut line = Line::open(desk.port);
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nContent-Type: application/json\r\n\
             x-lastvolt-token: {word}\r\nTransfer-Encoding: chunked\r\n\r\n",
            desk.port
        );
        line.send(head.as_bytes()).expect("the head");
        let chunk = format!("10000\r\n{}\r\n", " ".repeat(0x10000));
        // 64 MiB at most; a desk that refuses hangs up long before.
        let sent = (0..1024)
            .take_while(|_| line.send(chunk.as_bytes()).is_ok())
            .count();
        assert!(sent < 1024, "{path} took {sent} chunks");
        super::is_well(&mut desk, "an endless body");
    }
}

/// Every answer that passes the door, fine or refused, says what browsers may do with it.
#[test]
fn every_answer_has_the_policies() {
    let folder = Folder::tiny("doors-policies");
    let desk = Desk::open(folder.path());
    let port = desk.port;
    let mut answers: Vec<(String, Answer)> = Vec::new();
    let long = format!("/{}", "a".repeat(9000));
    for path in [
        "/",
        "/board/coin",
        "/board/none",
        "/stack/coin+none",
        "/none",
        "/live/board/coin",
        "/live/board/none",
        "/drawing/board/coin",
        "/curve/board/coin",
        "/panel/board/coin?select=part:S1",
        "/assets/desk.css",
        "/assets/desk.js",
        "/assets/none.js",
        &long,
        "/board/%ff",
        "/board/coin?depth=%ff",
    ] {
        answers.push((path.to_owned(), get(port, path)));
    }
    let own = format!("127.0.0.1:{port}");
    answers.push((
        "foreign".to_owned(),
        ask(port, "GET", "/", &[("Host", "evil.example")], ""),
    ));
    answers.push((
        "post".to_owned(),
        ask(port, "POST", "/", &[("Host", &own)], ""),
    ));
    answers.push((
        "put".to_owned(),
        ask(port, "PUT", "/", &[("Host", &own)], ""),
    ));
    let mut line = Line::open(port);
    line.send(format!("GET /news HTTP/1.1\r\nHost: {own}\r\n\r\n").as_bytes())
        .expect("sent");
    answers.push(("news".to_owned(), line.head().expect("a head")));
    for (what, answer) in &answers {
        assert_eq!(
            lacking(answer),
            Vec::<&str>::new(),
            "{what} {}",
            answer.status
        );
    }
    let policy = answers[0]
        .1
        .head("content-security-policy")
        .expect("a policy");
    for (never, why) in [
        ("unsafe", "inline code"),
        ("http", "another host"),
        ("*", "all hosts"),
    ] {
        assert!(!policy.contains(never), "{why}: {policy}");
    }
}

/// Pages and what they load name no other host, and are laid out for the policy: nothing inline.
#[test]
fn pages_and_assets_name_no_other_host() {
    let folder = Folder::tiny("doors-hosts");
    let desk = Desk::open(folder.path());
    let pages = [
        "/",
        "/board/coin",
        "/board/coin?select=part:BT1&reverse=BT1",
        "/none",
    ];
    let mut texts: Vec<(String, String)> = Vec::new();
    for path in pages {
        let text = get(desk.port, path).text();
        for never in [
            " style=\"",
            "<style",
            " onclick=",
            " onload=",
            "javascript:",
            "<iframe",
            "<base",
            "<object",
        ] {
            assert!(!text.contains(never), "{path} has {never}");
        }
        texts.push((path.to_owned(), text));
    }
    let assets: Vec<String> = loaded(&texts, &desk);
    assert!(3 < assets.len(), "{assets:?}");
    for path in assets {
        let answer = get(desk.port, &path);
        assert_eq!(answer.status, 200, "{path}");
        texts.push((path, answer.text()));
    }
    for (path, text) in &texts {
        let text = text
            .replace("http://www.w3.org/2000/svg", "")
            .replace("http://www.w3.org/1999/xlink", "");
        for never in [
            "http://", "https://", "\"//", "'//", "(//", "url(", "@import",
        ] {
            assert!(!text.contains(never), "{path} has {never}");
        }
    }
}

/// Addresses of everything that pages load, and of what that loads.
fn loaded(pages: &[(String, String)], desk: &Desk) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let mut texts: Vec<String> = pages.iter().map(|(_, text)| text.clone()).collect();
    while let Some(text) = texts.pop() {
        let named = text.split(['"', '\'']).filter_map(|word| {
            let name = word
                .strip_prefix("/assets/")
                .or_else(|| word.strip_prefix("./"))?;
            let plain = name
                .chars()
                .all(|c| c.is_ascii_alphanumeric() || ".-_".contains(c));
            plain.then(|| format!("/assets/{name}"))
        });
        let named: Vec<String> = named.collect();
        for path in named {
            if !found.contains(&path) {
                texts.push(get(desk.port, &path).text());
                found.push(path);
            }
        }
    }
    found
}

#[test]
fn the_token_is_another_each_time() {
    let folder = Folder::tiny("doors-tokens");
    let (one, other) = (Desk::open(folder.path()), Desk::open(folder.path()));
    let (one, other) = (token(one.port), token(other.port));
    assert_ne!(one, other);
    assert!(one.chars().all(|c| c.is_ascii_hexdigit()));
}
