//! What pages load beside themselves: one style sheet and our own modules, built into the program.

use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

use crate::draw::STYLE;

/// Modules by name.
const MODULES: [(&str, &str); 7] = [
    ("desk.js", include_str!("assets/desk.js")),
    ("edit.js", include_str!("assets/edit.js")),
    ("jobs.js", include_str!("assets/jobs.js")),
    ("live.js", include_str!("assets/live.js")),
    ("news.js", include_str!("assets/news.js")),
    ("swap.js", include_str!("assets/swap.js")),
    ("wave.js", include_str!("assets/wave.js")),
];

/// The sheet: pictures, what the report has, and what is the desk's own.
fn sheet() -> String {
    let page = include_str!("../report/page.css");
    let own = include_str!("assets/desk.css");
    let edit = include_str!("assets/edit.css");
    let burst = include_str!("assets/burst.css");
    format!("{STYLE}{page}{own}{edit}{burst}")
}

/// One asset by its name.
pub(crate) fn asset(name: &str) -> Response {
    if name == "desk.css" {
        return ([(header::CONTENT_TYPE, "text/css; charset=utf-8")], sheet()).into_response();
    }
    let module = MODULES.iter().find(|(known, _)| *known == name);
    match module {
        Some((_, text)) => {
            let kind = [(header::CONTENT_TYPE, "text/javascript; charset=utf-8")];
            (kind, *text).into_response()
        }
        None => StatusCode::NOT_FOUND.into_response(),
    }
}
