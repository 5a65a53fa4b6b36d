//! The section of long work: what can be asked for, how far it is, what came out.

use maud::{Markup, PreEscaped, html};

use crate::report::typeset;
use crate::text::number::percent;
use crate::web::desk::Sound;
use crate::web::jobs::queue::{Job, Now};
use crate::web::jobs::work::Work;
use crate::web::server::{Asked, Service};

/// The inside of the section on a page of boards.
pub(crate) fn inside(service: &Service, asked: &Asked) -> Markup {
    let place = crate::web::setting::path(&asked.setting.boards);
    section(service, asked.sound, &place, &Work::all_of_boards(asked))
}

/// The inside of the section on the page of the family.
pub(crate) fn family_inside(service: &Service, sound: &Sound) -> Markup {
    section(
        service,
        sound,
        "/",
        &Work::all_of_family(&sound.family.model),
    )
}

fn section(service: &Service, sound: &Sound, place: &str, offered: &[Work]) -> Markup {
    let jobs = service.desk.jobs.of(sound.number, place);
    let begun = |work: &Work| {
        jobs.iter()
            .any(|j| j.work == *work && !ended_early(&j.now()))
    };
    let open: Vec<&Work> = offered.iter().filter(|w| !begun(w)).collect();
    let fresh = service.desk.now().broken.is_none();
    html! {
        @if !offered.is_empty() || !jobs.is_empty() {
            h2 #jobs-head { "Long work" }
            p.quiet { "Runs in the background; the page stays as quick as it is. An answer holds for this edition of the files." }
            @for work in open { (offer(work, fresh)) }
            @for job in jobs.iter().rev() { (told(job)) }
        }
    }
}

fn ended_early(now: &Now) -> bool {
    matches!(now, Now::Stopped | Now::Done(Err(_)))
}

/// Work that can be asked for.
fn offer(work: &Work, fresh: bool) -> Markup {
    html! {
        div.job {
            p { strong { (work.title()) } ". " (work.purpose()) }
            p { button id={ "job-start-" (work.word()) } type="button" data-job-start=(work.word()) disabled[!fresh] { "Begin" } }
        }
    }
}

/// Work that has begun.
fn told(job: &Job) -> Markup {
    let id = job.id;
    let title = job.work.title();
    html! {
        div.job id={ "job-" (id) } data-job=(id) {
            h3 { (title) }
            @if let Some(condition) = job.work.condition() { p.quiet { (typeset(&condition)) } }
            @match job.now() {
                Now::Waiting => {
                    p { span.mark.note { "waits" } "for other work to end " (stop(id, title)) }
                }
                Now::Running(done) => {
                    p.running {
                        progress id={ "job-" (id) "-progress" } max="1" value=(done) aria-label=(title) {}
                        " " span.share data-job-share { (typeset(&percent(done))) } " " (stop(id, title))
                    }
                }
                Now::Stopping => p { span.mark.note { "stopping" } "ends as soon as it can" },
                Now::Stopped => p { span.mark.note { "stopped" } "before it was done" },
                Now::Done(Err(why)) => p { span.mark.stop { "no answer" } (typeset(&why)) },
                Now::Done(Ok(answer)) => (PreEscaped(answer)),
            }
        }
    }
}

fn stop(id: u64, title: &str) -> Markup {
    html! {
        button id={ "job-stop-" (id) } type="button" data-job-stop=(id) { "Stop" span.hidden { ": " (title) } }
    }
}
