//! Long work as pages ask for it.

use crate::web::jobs::queue::Now;
use crate::web::tried::Tried;

fn begin(desk: &Tried, work: &str, page: &str) -> u64 {
    let answer = desk.post(
        "/jobs/start",
        &format!("{{\"work\":\"{work}\",\"page\":\"{page}\"}}"),
    );
    assert_eq!(answer.status, 200, "{}", answer.body);
    let id: serde_json::Value = serde_json::from_str(&answer.body).expect("JSON");
    id["id"].as_u64().expect("a number")
}

fn stands(desk: &Tried, place: &str, id: u64) -> Option<Now> {
    let edition = desk.desk.now().number;
    let all = desk.desk.jobs.of(edition, place);
    all.iter().find(|j| j.id == id).map(|j| j.now())
}

#[test]
fn pairs_are_worked_out_with_ways_to_their_pages() {
    let desk = Tried::example();
    let offered = desk.get("/jobs").body;
    assert!(offered.contains("data-job-start=\"pairs\""), "{offered}");
    let id = begin(&desk, "pairs", "/");
    // The same that has begun stands for it.
    assert_eq!(begin(&desk, "pairs", "/"), id);
    Tried::until("the pairs are done", || {
        matches!(stands(&desk, "/", id), Some(Now::Done(Ok(_))))
    });
    let told = desk.get("/jobs").body;
    assert!(told.contains("href=\"/stack/coin+one%2Dcell\""), "{told}");
    assert!(!told.contains("data-job-start=\"pairs\""), "{told}");
    // Four boards alone, six pairs, four of two of a kind.
    let table = told
        .split_once("<tbody>")
        .and_then(|t| t.1.split_once("</tbody>"));
    assert_eq!(table.map(|t| t.0.matches("<tr").count()), Some(14));
}

#[test]
fn units_belong_to_the_setting_that_asks() {
    let desk = Tried::example();
    let id = begin(&desk, "units", "/board/coin");
    Tried::until("the units are done", || {
        matches!(stands(&desk, "/board/coin", id), Some(Now::Done(_)))
    });
    let Some(Now::Done(Ok(answer))) = stands(&desk, "/board/coin", id) else {
        panic!("no answer");
    };
    assert!(answer.contains("64 computed units"), "{answer}");
    // At another ambient it can be asked for again; here it is there.
    let here = desk.get("/jobs/board/coin").body;
    assert!(!here.contains("data-job-start"), "{here}");
    let cold = desk.get("/jobs/board/coin?ambient=low").body;
    assert!(cold.contains("data-job-start"), "{cold}");
    assert!(
        cold.contains("the usual climate"),
        "the condition is told: {cold}"
    );
}

#[test]
fn two_run_at_once_and_what_waits_can_be_stopped() {
    let desk = Tried::example();
    let pages = ["/board/coin", "/board/one-cell", "/board/two-cell"];
    let ids: Vec<u64> = pages
        .iter()
        .map(|page| begin(&desk, "units", page))
        .collect();
    let threes = begin(&desk, "threes", "/");
    let places = ["/board/coin", "/board/one%2Dcell", "/board/two%2Dcell"];
    let running = || {
        let all = places
            .iter()
            .zip(&ids)
            .map(|(place, id)| (*place, *id))
            .chain([("/", threes)]);
        all.filter(|(place, id)| matches!(stands(&desk, place, *id), Some(Now::Running(_))))
            .count()
    };
    assert!(running() <= 2);
    let stopped = desk.post("/jobs/stop", &format!("{{\"id\":{threes}}}"));
    assert_eq!(stopped.status, 204);
    Tried::until("it is stopped", || {
        matches!(stands(&desk, "/", threes), Some(Now::Stopped))
    });
    for id in &ids {
        assert_eq!(
            desk.post("/jobs/stop", &format!("{{\"id\":{id}}}")).status,
            204
        );
    }
    Tried::until("all have ended", || {
        assert!(running() <= 2);
        let mut all = places.iter().zip(&ids);
        all.all(|(place, id)| {
            matches!(stands(&desk, place, *id), Some(Now::Stopped | Now::Done(_)))
        })
    });
    // What was stopped can be asked for again.
    assert!(desk.get("/jobs").body.contains("data-job-start=\"threes\""));
    assert_eq!(desk.post("/jobs/stop", "{\"id\":999}").status, 404);
}

#[test]
fn a_newer_edition_ends_the_work_of_older_ones() {
    let desk = Tried::example();
    let id = begin(&desk, "threes", "/");
    let file = desk.folder.join("family.toml");
    let text = std::fs::read_to_string(&file).expect("the family");
    std::fs::write(&file, format!("{text}\n# later\n")).expect("a change");
    desk.desk.refresh();
    assert!(
        stands(&desk, "/", id).is_none(),
        "answers hold for their edition"
    );
    let next = begin(&desk, "pairs", "/");
    assert_ne!(next, id);
    Tried::until("the newer work is done", || {
        matches!(stands(&desk, "/", next), Some(Now::Done(Ok(_))))
    });
}

#[test]
fn work_needs_the_token_and_files_that_can_be_read() {
    let desk = Tried::example();
    let body = "{\"work\":\"pairs\",\"page\":\"/\"}";
    let head = format!(
        "POST /jobs/start HTTP/1.1\r\ncontent-type: application/json\r\ncontent-length: {}\r\n",
        body.len()
    );
    assert_eq!(desk.ask(&head, body).status, 403);
    let unknown = |work: &str, page: &str| {
        desk.post(
            "/jobs/start",
            &format!("{{\"work\":\"{work}\",\"page\":\"{page}\"}}"),
        )
        .status
    };
    assert_eq!(unknown("nothing", "/"), 404);
    assert_eq!(unknown("pairs", "/board/none"), 404);
    assert_eq!(unknown("units", "/board/usb"), 404, "no cell, no units");
    std::fs::write(desk.folder.join("coin.toml"), "[board").expect("a break");
    desk.desk.refresh();
    assert_eq!(desk.post("/jobs/start", body).status, 409);
}
