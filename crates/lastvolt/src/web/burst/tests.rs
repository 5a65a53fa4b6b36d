//! Waveforms as pages ask for them.

use crate::web::tried::Tried;

/// The value of an attribute of the first element that has it.
fn attribute<'t>(html: &'t str, name: &str) -> Option<&'t str> {
    let from = html.split_once(&format!("{name}=\""))?.1;
    Some(from.split_once('"')?.0)
}

fn number(html: &str, name: &str) -> f64 {
    let text = attribute(html, name).unwrap_or_else(|| panic!("{name}"));
    text.parse().expect("a number")
}

#[test]
fn a_task_is_drawn_from_a_link_and_stretches_are_followed_anew() {
    let desk = Tried::example();
    let whole = desk.get("/burst/board/coin?burst=report").body;
    assert!(whole.contains("Task report once"), "{whole}");
    assert!(
        whole.contains("id=\"burst:report\" value=\"report\" data-burst checked"),
        "{whole}"
    );
    let (from, to) = (
        number(&whole, "data-time-from-s"),
        number(&whole, "data-time-to-s"),
    );
    assert!(from < 0.0 && 0.0057 < to, "{from} {to}");
    let near = desk
        .get("/burst/board/coin?burst=report&from=0.0014&to=0.0016")
        .body;
    assert_eq!(number(&near, "data-time-from-s"), 0.0014);
    assert_eq!(number(&near, "data-time-to-s"), 0.0016);
    // The picture holds the instants of the stretch alone, and more of them than before.
    let points = |html: &str| attribute(html, "points").map_or(0, |p| p.split(' ').count());
    assert!(300 < points(&near), "{}", points(&near));
    // Of what happens only the edge that lies in it is told.
    assert!(
        near.contains("beacon to transmit") && !near.contains("beacon to sleep</li>"),
        "{near}"
    );
}

#[test]
fn the_page_of_a_link_shows_the_same_waveform() {
    let desk = Tried::example();
    let query = "depth=0.4&burst=listen&from=0.01&to=0.02";
    let page = desk.get(&format!("/board/coin?{query}"));
    assert_eq!(page.status, 200);
    let inside = desk.get(&format!("/burst/board/coin?{query}")).body;
    assert!(page.body.contains(&inside));
    // Ways on the page keep the rest of the link, in its order.
    assert!(
        inside.contains("href=\"/board/coin?depth=0.4&amp;burst=listen\""),
        "{inside}"
    );
}

#[test]
fn several_tasks_a_start_and_a_moment_off_are_followed() {
    let desk = Tried::example();
    let of = |query: &str| desk.get(&format!("/burst/board/coin?{query}")).body;
    let both = of("burst=report&burst=listen");
    assert!(
        both.contains("Tasks report and listen, due at the same instant"),
        "{both}"
    );
    let start = of("burst=start");
    assert!(start.contains("Switching on"), "{start}");
    assert!(start.contains("data-time-decades"), "{start}");
    let off = of("burst=off:50+ms");
    assert!(
        off.contains("for 50.0 ms, and on again") || off.contains("for 50 ms"),
        "{off}"
    );
    assert!(of("burst=off:soon").contains("role=\"alert\""));
    // What the profile does not have is no task.
    assert!(of("burst=nothing").contains("the task whose steps would pull"));
    let stack = desk.get("/burst/stack/coin+usb?burst=report").body;
    assert!(
        stack.contains("Task report once") || stack.contains("cannot be followed"),
        "{stack}"
    );
}

#[test]
fn the_cursor_reads_what_is_drawn() {
    let desk = Tried::example();
    let at = |query: &str, share: &str| {
        let answer = desk.get(&format!("/burst/at/board/coin?{query}&at={share}"));
        assert_eq!(answer.status, 200, "{}", answer.body);
        serde_json::from_str::<serde_json::Value>(&answer.body).expect("JSON")
    };
    let whole = "burst=report&from=0.001&to=0.002";
    let middle = at(whole, "0.5");
    assert_eq!(middle["readings"]["time"], "1.500\u{202f}ms");
    let volts = |answer: &serde_json::Value| {
        let text = answer["readings"]["net:VDD"]
            .as_str()
            .expect("the rail")
            .to_owned();
        text.split('\u{202f}')
            .next()
            .and_then(|n| n.parse::<f64>().ok())
            .expect("volts")
    };
    // Transmitting begins at 1.5 ms: the rail is lower at the end than at the beginning.
    assert!(volts(&at(whole, "1")) < volts(&at(whole, "0")));
    assert!(
        middle["spoken"].as_str().is_some_and(|s| s.contains("VDD")),
        "{middle}"
    );
    assert_eq!(desk.get("/burst/at/board/coin?at=nan").status, 400);
    assert_eq!(desk.get("/burst/at/board/coin").status, 400);
    assert_eq!(
        desk.get("/burst/at/board/coin?burst=off:soon&at=0.5")
            .status,
        404
    );
}

#[test]
fn a_waveform_is_the_same_whatever_was_asked_before() {
    let first = Tried::example();
    let second = Tried::example();
    let query = "/burst/board/two-cell?burst=report&from=0.001&to=0.003";
    for other in ["burst=start", "burst=listen&from=0&to=0.01", "depth=0.9"] {
        second.get(&format!("/burst/board/two-cell?{other}"));
    }
    assert_eq!(first.get(query).body, second.get(query).body);
    assert_eq!(second.get(query).body, second.get(query).body);
}
