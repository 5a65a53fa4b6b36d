//! What is selected: a part, a net, a load, a task or a finding, with its figures and what can be changed.

use lastvolt_core::circuit::stresses;
use lastvolt_core::model::{Board, Part};
use maud::{Markup, PreEscaped, html};

use crate::report::{finding_block, finding_mark, part_words, typeset};
use crate::text::number::percent;
use crate::view::FindingView;
use crate::web::burst::about_task;
use crate::web::edit;
use crate::web::live::solved;
use crate::web::readings::{is_source, readings};
use crate::web::server::{Asked, Service};
use crate::web::setting::Chosen;

/// The side panel.
pub(crate) fn panel(service: &Service, asked: &Asked) -> Markup {
    match &asked.setting.chosen {
        Some(Chosen::Part(name)) => part(service, asked, name),
        Some(Chosen::Net(name)) => net(asked, name),
        Some(Chosen::Load(name)) => load(service, asked, name),
        Some(Chosen::Task(name)) => task(service, asked, name),
        Some(Chosen::Finding(id)) => finding(asked, id),
        None => nothing(asked),
    }
}

fn head(title: &str) -> Markup {
    html! { h2 { (title) } }
}

/// What to do where nothing is selected.
fn nothing(asked: &Asked) -> Markup {
    html! {
        (head("Selected"))
        p { "Choose a part or a net in the drawing, or below, to see its figures and to change its values." }
        (choices(asked))
    }
}

/// Everything that can be selected.
fn choices(asked: &Asked) -> Markup {
    let link = |chosen: Chosen| {
        let word = chosen.word();
        let href = asked.setting.with(|s| s.chosen = Some(chosen)).link();
        (word, href)
    };
    html! {
        ul.choices {
            @for (name, part) in asked.circuit.parts() {
                @let (word, href) = link(Chosen::Part(name.clone()));
                li { a data-choose=(word) href=(href) { span.ref { (name) } " " (part.kind.word()) } }
            }
            @for (name, _) in asked.circuit.loads() {
                @let (word, href) = link(Chosen::Load(name.clone()));
                li { a data-choose=(word) href=(href) { span.ref { (name) } " load" } }
            }
            @if let Some(profile) = asked.setting.profile(asked.circuit.family()) {
                @for task in &profile.tasks {
                    @let (word, href) = link(Chosen::Task(task.name.clone()));
                    li { a data-choose=(word) href=(href) { span.ref { (task.name) } " task" } }
                }
            }
        }
    }
}

/// A name that is not there any more.
fn gone(asked: &Asked, what: &str, name: &str) -> Markup {
    html! {
        (head("Selected"))
        p role="status" { "There is no " (what) " " bdi { (name) } " here." }
        (choices(asked))
    }
}

fn part(service: &Service, asked: &Asked, name: &str) -> Markup {
    let parts = asked.circuit.parts();
    let Some((_, part)) = parts.iter().find(|(n, _)| n == name) else {
        return gone(asked, "part", name);
    };
    html! {
        (head(&format!("{name}, {}", part.kind.word())))
        (purpose(asked, name, part))
        div data-fragment="chosen" { (figures_of(asked, name, part)) }
        (about(asked, name))
        (form(service, || edit::part_form(
            &asked.sound.family,
            &asked.setting.boards,
            asked.setting.profile.as_deref(),
            owner(asked, name),
        )))
        (close(asked))
    }
}

/// What it is and what it is for.
fn purpose(asked: &Asked, name: &str, part: &Part) -> Markup {
    let Some(board) = board_of(asked, name) else {
        return html! {};
    };
    let ground = asked.circuit.family().connector.ground_net();
    html! { p { (typeset(&part_words(board, part, ground))) } }
}

/// The board that a part is on.
fn board_of<'a>(asked: &'a Asked, name: &str) -> Option<&'a Board> {
    let boards = asked.circuit.boards();
    match name.rsplit_once('/') {
        Some((board, _)) => boards.iter().find(|b| b.name == board).copied(),
        None => boards.first().copied(),
    }
}

/// Board and own name of what the engine calls `board/R1` in a stack and `R1` on a board alone.
fn owner<'a>(asked: &'a Asked, name: &'a str) -> (&'a str, &'a str) {
    let boards = &asked.setting.boards;
    match name.split_once('/') {
        Some((board, own)) if boards.iter().any(|b| b == board) => (board, own),
        _ => (boards.first().map_or("", String::as_str), name),
    }
}

/// A form, unless the files cannot be read as they are.
fn form(service: &Service, form: impl FnOnce() -> Markup) -> Markup {
    if service.desk.now().broken.is_some() {
        return html! { p.quiet { "Values can be changed once the files can be read." } };
    }
    form()
}

/// What changes with the setting about what is selected, where that is a part.
pub(crate) fn chosen(asked: &Asked) -> Option<Markup> {
    let Some(Chosen::Part(name)) = &asked.setting.chosen else {
        return None;
    };
    let parts = asked.circuit.parts();
    let (_, part) = parts.iter().find(|(n, _)| n == name)?;
    Some(figures_of(asked, name, part))
}

fn figures_of(asked: &Asked, name: &str, part: &Part) -> Markup {
    html! {
        (figures(asked, name, part))
        (stressed(asked, name))
    }
}

/// Live figures of a part.
fn figures(asked: &Asked, name: &str, part: &Part) -> Markup {
    let known = solved(asked).ok();
    let known = known
        .map(|p| readings(&asked.circuit, &asked.setting.situation, &p))
        .unwrap_or_default();
    let power = if is_source(part) { "gives" } else { "loss" };
    let lines = [
        ("current", "current"),
        ("voltage", "voltage"),
        ("loss", power),
        ("mode", "state"),
    ];
    html! {
        dl.figures {
            @for (what, word) in lines {
                @let key = format!("part:{name}:{what}");
                @if let Some(text) = known.get(&key) {
                    dt { (word) } dd { span data-reading=(key) { (text) } }
                }
            }
            @for pin in &part.pins {
                dt { "pin " (pin.name) }
                dd { (pin_net(asked, name, part, &pin.name)) }
            }
        }
    }
}

/// The net of a pin as a link, with its voltage.
fn pin_net(asked: &Asked, name: &str, part: &Part, pin: &str) -> Markup {
    let Some(net) = net_of(asked, name, part, pin) else {
        return html! { "open" };
    };
    let chosen = Chosen::Net(net.clone());
    let href = asked
        .setting
        .with(|s| s.chosen = Some(chosen.clone()))
        .link();
    html! { a data-choose=(chosen.word()) href=(href) { span.ref { (net) } } }
}

/// The engine's name of the net of a pin.
fn net_of(asked: &Asked, name: &str, part: &Part, pin: &str) -> Option<String> {
    let board = board_of(asked, name)?;
    let place = part.net(pin)?;
    let own = board.nets.get(place)?;
    let all = asked.circuit.net_names();
    let whole = format!("{}/{own}", board.name);
    if all.contains(&whole) {
        Some(whole)
    } else {
        Some(own.clone())
    }
}

/// How hard it is worked.
fn stressed(asked: &Asked, name: &str) -> Markup {
    let Ok(point) = solved(asked) else {
        return html! {};
    };
    let all = stresses(&asked.circuit, &asked.setting.situation, &point);
    let own: Vec<_> = all.into_iter().filter(|s| s.part == name).collect();
    html! {
        @if !own.is_empty() {
            h3 { "Share of its ratings" }
            dl.figures { @for stress in &own { dt { (stress.quantity) } dd { (typeset(&percent(stress.share))) } } }
        }
    }
}

/// Findings that name a part.
fn about(asked: &Asked, name: &str) -> Markup {
    let Some(Ok(reviewed)) = asked.sound.reviewed.get() else {
        return html! {};
    };
    // A part of a board alone and the same part in a stack are one part.
    let (board, short) = match (name.rsplit_once('/'), asked.setting.boards.first()) {
        (Some((board, short)), _) => (board, short),
        (None, first) => (first.map_or("", String::as_str), name),
    };
    let whole = format!("{board}/{short}");
    let named = |f: &&FindingView| {
        let here = f
            .parts
            .iter()
            .any(|p| *p == whole || p == short && f.board == board);
        here && !f.is_caution()
    };
    let found: Vec<_> = reviewed.views.iter().filter(named).collect();
    html! {
        @if !found.is_empty() {
            h3 { "Findings that name it" }
            ul.lines { @for view in found { li {
                @let chosen = Chosen::Finding(view.id.clone());
                (finding_mark(view))
                a data-choose=(chosen.word()) href=(asked.setting.with(|s| s.chosen = Some(chosen.clone())).link()) { (view.rule) }
                " " (typeset(&view.says))
            } } }
        }
    }
}

fn net(asked: &Asked, name: &str) -> Markup {
    if !asked.circuit.net_names().iter().any(|n| n == name) {
        return gone(asked, "net", name);
    }
    let key = format!("net:{name}");
    let point = solved(asked).ok();
    let known = point
        .as_ref()
        .map(|p| readings(&asked.circuit, &asked.setting.situation, p));
    let text = known.and_then(|k| k.get(&key).cloned()).unwrap_or_default();
    let floats = point.is_some_and(|p| p.floating.iter().any(|f| f == name));
    html! {
        (head(&format!("Net {name}")))
        dl.figures {
            dt { "voltage" } dd { span data-reading=(key) { (text) } }
            @if floats { dt { "level" } dd { strong { "! nothing defines it" } } }
        }
        h3 { "Pins on it" }
        ul.choices {
            @for (part_name, part) in asked.circuit.parts() {
                @for pin in &part.pins {
                    @if net_of(asked, &part_name, part, &pin.name).as_deref() == Some(name) {
                        @let chosen = Chosen::Part(part_name.clone());
                        li { a data-choose=(chosen.word()) href=(asked.setting.with(|s| s.chosen = Some(chosen.clone())).link()) {
                            span.ref { (part_name) } " " (pin.name)
                        } }
                    }
                }
            }
        }
        (close(asked))
    }
}

fn load(service: &Service, asked: &Asked, name: &str) -> Markup {
    let loads = asked.circuit.loads();
    if !loads.iter().any(|(n, _)| n == name) {
        return gone(asked, "load", name);
    }
    let point = solved(asked).ok();
    let known = point
        .map(|p| readings(&asked.circuit, &asked.setting.situation, &p))
        .unwrap_or_default();
    html! {
        (head(&format!("{name}, load")))
        dl.figures {
            @for (what, word) in [("current", "current"), ("voltage", "voltage"), ("loss", "power"), ("mode", "state")] {
                @let key = format!("load:{name}:{what}");
                dt { (word) } dd { span data-reading=(key) { (known.get(&key).cloned().unwrap_or_default()) } }
            }
        }
        (about(asked, name))
        (form(service, || edit::load_form(
            &asked.sound.family,
            &asked.setting.boards,
            asked.setting.profile.as_deref(),
            owner(asked, name),
        )))
        (close(asked))
    }
}

fn task(service: &Service, asked: &Asked, name: &str) -> Markup {
    let profile = asked.setting.profile(asked.circuit.family());
    let task = profile.and_then(|p| p.tasks.iter().find(|t| t.name == name));
    let Some(task) = task else {
        return gone(asked, "task", name);
    };
    html! {
        (head(&format!("{}, task", task.name)))
        (about_task(asked, task))
        @if let Some(profile) = profile {
            (form(service, || edit::task_form(
                    &asked.sound.family,
                &asked.setting.boards,
                &profile.name,
                &task.name,
            )))
        }
        (close(asked))
    }
}

fn finding(asked: &Asked, id: &str) -> Markup {
    let Some(Ok(reviewed)) = asked.sound.reviewed.get() else {
        return html! { (head("Finding")) p role="status" { "The review of this edition is not there yet." } };
    };
    let found = reviewed.views.iter().enumerate().find(|(_, v)| v.id == id);
    let Some((at, view)) = found else {
        return html! {
            (head("Finding"))
            p role="status" { "This finding is not there any more." }
            (choices(asked))
        };
    };
    let anchor = format!(" id=\"finding-{}\"", at + 1);
    html! {
        (head("Finding"))
        // The page below has the same block under its anchor.
        (PreEscaped(finding_block(at, view).0.replacen(&anchor, "", 1)))
        (close(asked))
    }
}

/// Back to nothing selected.
fn close(asked: &Asked) -> Markup {
    html! { p { a.plain data-choose="" href=(asked.setting.with(|s| s.chosen = None).link()) { "Select nothing" } } }
}
