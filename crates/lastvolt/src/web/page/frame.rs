//! What every page has: head, way through the family, state of the files.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::text::direction::{isolates, turns};
use crate::web::desk::Edition;
use crate::web::edit::history_bar;
use crate::web::page::broken;
use crate::web::server::Service;
use crate::web::setting::path;

/// A page around its content.
pub(super) fn frame(
    service: &Service,
    now: &Edition,
    title: &str,
    here: &[String],
    content: &Markup,
) -> String {
    let stale = now.broken.is_some();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="lastvolt-token" content=(service.desk.token);
                meta name="lastvolt-edition" content=(now.number);
                title { (title) }
                link rel="icon" href="data:,";
                link rel="stylesheet" href="/assets/desk.css";
                script type="module" src="/assets/desk.js" {}
            }
            body.desk {
                a.skip href="#main" { "Skip to the content" }
                (head(now, here))
                div #history data-swap { (history_bar(&service.edits)) p.refused role="status" {} }
                div #files-state data-swap { (broken::state(now)) }
                main #main class=[stale.then_some("stale")] data-stale=[stale.then_some("")] { (content) }
                footer data-swap #foot {
                    p { "All figures are estimates from the files as they are; they do not replace data sheets, tests on built units, local codes or licensed practice." }
                }
                p.hidden #spoken role="status" aria-live="polite" {}
            }
        }
    };
    let page = page.into_string();
    // A name cannot turn the direction of what follows it; those that isolate close with their paragraph.
    page.chars()
        .filter(|&c| (c == '\n' || !c.is_control()) && (isolates(c) || !turns(c)))
        .collect()
}

/// The way through the family, and whether the page is live.
fn head(now: &Edition, here: &[String]) -> Markup {
    let Some(sound) = &now.sound else {
        return html! { header.top #top data-swap { p.kicker { "Lastvolt" } } };
    };
    let model = &sound.family.model;
    html! {
        header.top #top data-swap {
            p.family { a href="/" aria-current=[here.is_empty().then_some("page")] dir="auto" { (model.name) } }
            nav.boards aria-label="Boards" {
                ul {
                    @for board in &model.boards {
                        @let own = [board.name.clone()];
                        li { a href=(path(&own)) aria-current=[(here == own).then_some("page")] { bdi { (board.name) } } }
                    }
                }
            }
            p.pulse #pulse role="status" data-state="waiting" { span.word { "connecting" } noscript { ": this page needs its scripts to follow the files" } }
        }
    }
}

/// A page that is not there.
pub(crate) fn missing(service: &Service, path: &str) -> String {
    let now = service.desk.now();
    let content = html! {
        h1 { "Nothing is here" }
        p { code { (path) } " is no page of this family. It may be the link of a board that has been taken out or renamed." }
        p { a href="/" { "All boards" } }
    };
    frame(
        service,
        &now,
        "Nothing is here",
        &[],
        &PreEscaped(content.into_string()),
    )
}
