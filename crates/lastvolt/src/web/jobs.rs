//! Long work in the background: it is asked for, tells how far it is, can be stopped, and its answer is
//! kept while the edition lasts that it was made from.

mod page;
mod queue;
mod stacks;
mod units;
mod work;

#[cfg(test)]
mod tests;

use std::sync::Arc;

use axum::Json;
use axum::extract::{Query, State};
use axum::http::{StatusCode, Uri};
use axum::response::{Html, IntoResponse, Response};
use serde::Deserialize;

pub(crate) use page::{family_inside, inside};
pub(crate) use queue::Jobs;

use crate::web::jobs::work::Work;
use crate::web::server::{Pairs, Service, answered, asked, computed};

/// Work that a page asks for.
#[derive(Debug, Deserialize)]
pub(crate) struct Start {
    /// What is to be done.
    work: String,
    /// Path and query of the page that asks.
    page: String,
}

/// Work that is to end.
#[derive(Debug, Deserialize)]
pub(crate) struct Stop {
    /// Its number.
    id: u64,
}

/// Begins work, or finds the same work that has begun already.
pub(crate) async fn start(
    State(service): State<Arc<Service>>,
    Json(start): Json<Start>,
) -> Response {
    computed(move || match begun(&service, &start) {
        Ok(id) => Json(serde_json::json!({ "id": id })).into_response(),
        Err(refused) => refused.into_response(),
    })
    .await
}

fn begun(service: &Service, start: &Start) -> Result<u64, (StatusCode, &'static str)> {
    let now = service.desk.now();
    let sound = now.sound.as_ref().filter(|_| now.broken.is_none());
    let sound = sound.ok_or((
        StatusCode::CONFLICT,
        "the files cannot be read as they are\n",
    ))?;
    let unknown = (StatusCode::NOT_FOUND, "there is no such work here\n");
    let page: Uri = start.page.parse().map_err(|_| unknown)?;
    let pairs: Pairs = form_urlencoded::parse(page.query().unwrap_or_default().as_bytes())
        .into_owned()
        .collect();
    let work = if page.path() == "/" {
        Work::of_family(&start.work, &sound.family.model)
    } else {
        let asked = asked(sound, &page, &pairs).map_err(|_| unknown)?;
        Work::of_boards(&start.work, &asked)
    };
    let work = work.ok_or(unknown)?;
    service.desk.jobs.start(&service.desk, sound, work).ok_or((
        StatusCode::TOO_MANY_REQUESTS,
        "much is waiting already: stop some of it first\n",
    ))
}

/// Stops work.
pub(crate) async fn stop(State(service): State<Arc<Service>>, Json(stop): Json<Stop>) -> Response {
    if service.desk.jobs.stop(&service.desk, stop.id) {
        StatusCode::NO_CONTENT.into_response()
    } else {
        StatusCode::NOT_FOUND.into_response()
    }
}

/// The inside of the section of a page of boards.
pub(crate) async fn answer(
    State(service): State<Arc<Service>>,
    uri: Uri,
    Query(pairs): Query<Pairs>,
) -> Response {
    answered(service, uri, pairs, |service, asked| {
        Html(inside(service, asked).into_string()).into_response()
    })
    .await
}

/// The inside of the section of the page of the family.
pub(crate) async fn family_answer(State(service): State<Arc<Service>>) -> Response {
    computed(move || match &service.desk.now().sound {
        Some(sound) => Html(family_inside(&service, sound).into_string()).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    })
    .await
}
