//! Addresses under which values are tried, previewed, saved, undone and redone.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::post;
use axum::{Json, Router};
use lastvolt_input::Text;
use maud::{Markup, html};
use serde_json::{Value, json};

use super::ask::{Ask, What};
use super::check;
use super::history::Way;
use super::locate::shown;
use super::nearby::{neighbours, series};
use super::owner::kind;
use super::preview::{self, Stop, life_of};
use super::quote::unwritten;
use super::save::{NotSaved, save, step};
use super::splice::{parse, source};
use crate::report::typeset;
use crate::web::desk::Sound;
use crate::web::server::{Service, computed};

/// The addresses.
pub(crate) fn routes() -> Router<Arc<Service>> {
    Router::new()
        .route("/edit/try", post(tried))
        .route("/edit/preview", post(previewed))
        .route("/edit/nearby", post(near))
        .route("/edit/save", post(saved))
        .route("/edit/undo", post(undone))
        .route("/edit/redo", post(redone))
}

/// Why nothing is changed while the files cannot be read.
const BROKEN: &str = "the files cannot be read as they are: put that right in an editor first";

/// Something is in the way, in words.
fn refuse(status: StatusCode, says: &str) -> Response {
    let html = html! { p.edit-problem { span.mark.stop { "error" } (says) } };
    (
        status,
        Json(json!({ "says": says, "html": html.into_string() })),
    )
        .into_response()
}

/// The family to change, unless its files are broken.
fn sound(service: &Service) -> Option<Arc<Sound>> {
    let now = service.desk.now();
    let sound = now.sound.as_ref().filter(|_| now.broken.is_none());
    sound.map(Arc::clone)
}

pub(super) async fn tried(State(service): State<Arc<Service>>, Json(ask): Json<Ask>) -> Response {
    computed(move || match sound(&service) {
        Some(sound) => {
            let family = &sound.family;
            let mut answer = check::answer(&ask, &family.texts, &family.slips);
            if !ask.is_current(&family.texts) {
                answer["conflict"] = json!(conflict(&ask, &family.texts).into_string());
            }
            Json(answer).into_response()
        }
        None => refuse(StatusCode::CONFLICT, BROKEN),
    })
    .await
}

pub(super) async fn previewed(
    State(service): State<Arc<Service>>,
    Json(ask): Json<Ask>,
) -> Response {
    let stop = Stop::default();
    // Dropped with this future when the page asks something newer.
    let _guard = stop.guard();
    computed(move || {
        let Some(sound) = sound(&service) else {
            return refuse(StatusCode::CONFLICT, BROKEN);
        };
        let outcome = ask.outcome(&sound.family.texts);
        if !outcome.is_sound() {
            return StatusCode::UNPROCESSABLE_ENTITY.into_response();
        }
        let html = match ask.what {
            What::Life => preview::lives(&sound, &ask, &outcome, &stop),
            What::Findings => preview::findings(&sound, &service.edits, &ask, &outcome, &stop),
        };
        Html(html.into_string()).into_response()
    })
    .await
}

async fn near(State(service): State<Arc<Service>>, Json(ask): Json<Ask>) -> Response {
    let stop = Stop::default();
    let _guard = stop.guard();
    computed(move || match sound(&service) {
        Some(sound) => Html(nearby(&sound, &ask, &stop).into_string()).into_response(),
        None => refuse(StatusCode::CONFLICT, BROKEN),
    })
    .await
}

/// What each neighbour of a value does to the life of the first board of the page.
fn nearby(sound: &Sound, ask: &Ask, stop: &Stop) -> Markup {
    let texts = &sound.family.texts;
    let text = texts.iter().find(|t| t.name == ask.file);
    let (Some(typed), Some(text), Some(board)) = (ask.changes.first(), text, ask.boards.first())
    else {
        return html! {};
    };
    let Ok(document) = parse(&text.text) else {
        return html! {};
    };
    let kind = typed
        .path
        .get(..2)
        .and_then(|part| kind(document.as_table(), part));
    let (Some((series, _, unit)), Some(now)) = (kind.as_deref().and_then(series), &typed.to) else {
        return html! {};
    };
    let is_name = |value: &str| html! { button type="button" data-fill=(value) data-for=(typed.id) { (value) } };
    let with = |value: &str| {
        let mut other = ask.clone();
        other.changes.truncate(1);
        other.changes[0].to = Some(value.to_owned());
        let outcome = other.outcome(texts);
        let family = outcome.loaded.family.ok_or("cannot be read")?;
        life_of(&family, board, ask.profile.as_deref(), stop)
    };
    let here = with(now);
    html! {
        dl.edit-lives {
            @for value in neighbours(now, series, unit) {
                dt { (is_name(&value)) }
                dd { (typeset(&beside(&here, &with(&value)))) }
            }
        }
    }
}

/// A life beside the one of the value that stands there.
fn beside(
    here: &Result<lastvolt_core::time::Life, String>,
    there: &Result<lastvolt_core::time::Life, String>,
) -> String {
    match (here, there) {
        (_, Err(why)) => why.clone(),
        (Err(_), Ok(there)) => preview::lasts(there),
        (Ok(here), Ok(there)) => {
            let lasts = preview::lasts(there);
            match (here.life_secs, there.life_secs) {
                (Some(a), Some(b)) => {
                    let error = here.error_secs.max(there.error_secs);
                    format!("{lasts}: {}", preview::difference(a, b, error))
                }
                _ => lasts,
            }
        }
    }
}

pub(super) async fn saved(State(service): State<Arc<Service>>, Json(ask): Json<Ask>) -> Response {
    computed(move || {
        let done = save(&service.desk.folder, &service.edits, &ask);
        let edition = service.desk.refresh();
        match done {
            Ok(words) => told(
                &service,
                edition,
                &format!("saved {words} into {}", ask.file),
            ),
            Err(NotSaved::Changed(texts)) => {
                let answer = json!({
                    "says": "the file has changed meanwhile; nothing was written",
                    "base": check::digest(&texts, &ask.file),
                    "conflict": conflict(&ask, &texts).into_string(),
                });
                (StatusCode::CONFLICT, Json(answer)).into_response()
            }
            Err(why) => not_saved(&service, &why),
        }
    })
    .await
}

pub(super) async fn undone(State(service): State<Arc<Service>>) -> Response {
    stepped(service, Way::Undo).await
}

pub(super) async fn redone(State(service): State<Arc<Service>>) -> Response {
    stepped(service, Way::Redo).await
}

async fn stepped(service: Arc<Service>, way: Way) -> Response {
    computed(move || {
        let done = step(&service.desk.folder, &service.edits, way);
        let edition = service.desk.refresh();
        let word = match way {
            Way::Undo => "undone",
            Way::Redo => "done again",
        };
        match done {
            Ok(words) => told(&service, edition, &format!("{word}: {words}")),
            Err(NotSaved::Changed(_)) => {
                let says = "the file has changed since: that change would be lost with it, so nothing was written";
                refuse(StatusCode::CONFLICT, says)
            }
            Err(why) => not_saved(&service, &why),
        }
    })
    .await
}

/// What was done, and what can be undone and redone now.
fn told(service: &Service, edition: u64, says: &str) -> Response {
    let history = service.edits.history();
    let answer: Value = json!({
        "edition": edition,
        "says": says,
        "undo": history.words(Way::Undo),
        "redo": history.words(Way::Redo),
    });
    Json(answer).into_response()
}

fn not_saved(service: &Service, why: &NotSaved) -> Response {
    match why {
        NotSaved::Unsound if service.desk.now().broken.is_some() => {
            refuse(StatusCode::CONFLICT, BROKEN)
        }
        NotSaved::Nothing => refuse(StatusCode::NOT_FOUND, "there is nothing to undo or redo"),
        NotSaved::Refused(says) => refuse(StatusCode::FORBIDDEN, says),
        NotSaved::Unsound | NotSaved::Changed(_) => {
            let says = "the files could not be read with this change: nothing was written";
            refuse(StatusCode::UNPROCESSABLE_ENTITY, says)
        }
    }
}

/// The file says something else by now: what stands there, what was typed, and what can be done.
fn conflict(ask: &Ask, texts: &[Text]) -> Markup {
    let text = texts.iter().find(|t| t.name == ask.file);
    let document = text.and_then(|t| parse(&t.text).ok());
    let there = |path: &[super::locate::Step]| {
        let found = text.zip(document.as_ref());
        let raw = found.and_then(|(t, d)| source(&t.text, d.as_table(), path));
        raw.map(unwritten)
    };
    html! {
        div.edit-conflict role="alert" {
            p { strong { code { (ask.file) } " has changed on disk since this form was made." } " Nothing has been written." }
            table {
                thead { tr { th scope="col" { "value" } th scope="col" { "in the file now" } th scope="col" { "yours" } } }
                tbody { @for typed in &ask.changes { tr {
                    th scope="row" { code { (shown(&typed.path)) } }
                    td { (value(there(&typed.path).as_deref())) }
                    td { (value(typed.to.as_deref())) }
                } } }
            }
            p.edit-actions {
                // A place in a list may be another one by now.
                @if !ask.changes.iter().any(|c| c.path.iter().any(|s| matches!(s, super::locate::Step::At(_)))) {
                    button type="button" data-edit-mine { "Keep mine, to be saved into the file as it is now" }
                }
                button type="button" data-edit-theirs { "Use the file as it is" }
            }
        }
    }
}

fn value(text: Option<&str>) -> Markup {
    match text {
        Some(text) => html! { code { (text) } },
        None => html! { "not there" },
    }
}
