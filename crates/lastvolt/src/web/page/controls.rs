//! The strip of ordinary controls: what is set, and what else could be.

use lastvolt_core::circuit::History;
use lastvolt_core::device::{Cell, Switch};
use lastvolt_core::model::{Device, Load, Part};
use maud::{Markup, html};

use crate::report::typeset;
use crate::text::number::celsius;
use crate::web::page::MOST_BOARDS;
use crate::web::server::Asked;
use crate::web::setting::{Ambient, Setting, path};

/// The strip.
pub(super) fn strip(asked: &Asked) -> Markup {
    let setting = &asked.setting;
    let parts = asked.circuit.parts();
    html! {
        form.strip #strip data-swap aria-label="Setting" {
            @for (name, part) in &parts {
                @if let Device::Switch(switch) = &part.device { (positions(setting, name, switch)) }
            }
            @for (name, part) in &parts {
                @match &part.device {
                    Device::Cell(cell) => (cells(setting, name, cell)),
                    Device::Supply(_) => (source(setting, name, part)),
                    _ => {}
                }
            }
            @for (name, load) in asked.circuit.loads() { (states(setting, &name, load)) }
            (profiles(asked))
            (ambient(asked))
            (history(setting))
            p.back {
                a.plain data-usual href=(path(&setting.boards)) { "Back to usual" }
            }
        }
    }
}

/// Positions of a switch as a row of choices.
fn positions(setting: &Setting, name: &str, switch: &Switch) -> Markup {
    let now = setting.situation.positions.get(name);
    let names = switch.positions.iter().map(|p| p.name.clone());
    let usual = switch.positions.get(switch.usual).map(|p| p.name.as_str());
    let names: Vec<String> = names.chain(switch.between()).collect();
    html! {
        fieldset {
            legend { span.ref { (name) } @if let Some(label) = &switch.label { " " (label) } }
            @for position in &names {
                label.choice {
                    input type="radio" name={ "set:" (name) } value=(position) data-key="set" data-name=(name)
                        data-usual=[(usual == Some(position)).then_some("")]
                        id={ "set:" (name) ":" (position) } checked[now == Some(position)];
                    span { (position) }
                }
            }
        }
    }
}

/// Whether cells are in the right way round, and in at all.
fn cells(setting: &Setting, name: &str, cell: &Cell) -> Markup {
    let (reversed, absent) = (&setting.situation.reversed, &setting.situation.absent);
    let single = cell.series < 2;
    let one = |n: usize| format!("{name}.{n}");
    html! {
        fieldset {
            legend { span.ref { (name) } @if single { " cell" } @else { " cells" } }
            (flag("reverse", name, if single { "the wrong way round" } else { "all the wrong way round" }, reversed.contains(name)))
            @if !single {
                @for n in 1..=cell.series { (flag("reverse", &one(n), &format!("only {n}"), reversed.contains(&one(n)))) }
            }
            (flag("absent", name, "taken out", absent.contains(name)))
        }
    }
}

/// Whether a supply is plugged in.
fn source(setting: &Setting, name: &str, part: &Part) -> Markup {
    html! {
        fieldset {
            legend { span.ref { (name) } " " (part.kind.word()) }
            (flag("absent", name, "not plugged in", setting.situation.absent.contains(name)))
        }
    }
}

fn flag(key: &str, name: &str, words: &str, on: bool) -> Markup {
    html! {
        label.choice {
            input type="checkbox" data-key=(key) data-name=(name) id={ (key) ":" (name) } checked[on];
            span { (words) }
        }
    }
}

/// The state of a load.
fn states(setting: &Setting, name: &str, load: &Load) -> Markup {
    let now = setting.situation.states.get(name);
    html! {
        @if 1 < load.states.len() {
            label.field {
                span.legend { span.ref { (name) } " load" }
                select data-key="state" data-name=(name) id={ "state:" (name) } {
                    @for state in &load.states {
                        option value=(state.name) selected[now == Some(&state.name)] { (state.name) }
                    }
                }
            }
        }
    }
}

/// The profile whose base states and life are shown.
fn profiles(asked: &Asked) -> Markup {
    let family = asked.circuit.family();
    let now = asked.setting.profile(family).map(|p| &p.name);
    html! {
        @if 1 < family.profiles.len() {
            label.field {
                span.legend { "profile" }
                select data-key="profile" id="profile" {
                    @for profile in &family.profiles {
                        option value=(profile.name) selected[now == Some(&profile.name)] { (profile.name) }
                    }
                }
            }
        }
    }
}

/// The temperature around the boards.
fn ambient(asked: &Asked) -> Markup {
    let stated = &asked.circuit.family().requirement.ambient;
    let now = &asked.setting.ambient;
    let words = [
        ("low", stated.low, Ambient::Low),
        ("usual", stated.usual, Ambient::Usual),
        ("high", stated.high, Ambient::High),
    ];
    html! {
        label.field {
            span.legend { "ambient" }
            select data-key="ambient" id="ambient" {
                @for (word, degrees, ambient) in &words {
                    option value=(word) selected[now == ambient] { (word) ", " (typeset(&celsius(degrees.as_celsius()))) }
                }
                @if let Ambient::Own(text) = now { option value=(text) selected { (typeset(text)) } }
            }
        }
    }
}

/// How the circuit came to where it is.
fn history(setting: &Setting) -> Markup {
    let cold = setting.situation.history == History::Cold;
    html! {
        fieldset {
            legend { "before this" }
            @for (word, words, on) in [("running", "running", !cold), ("cold", "off", cold)] {
                label.choice {
                    input type="radio" name="history" value=(word) data-key="history" id={ "history:" (word) }
                        data-usual=[(word == "running").then_some("")] checked[on];
                    span { (words) }
                }
            }
        }
    }
}

/// Which boards are plugged together, as links to the others.
pub(super) fn stack(asked: &Asked) -> Markup {
    let boards = &asked.setting.boards;
    let all = &asked.circuit.family().boards;
    let others: Vec<&str> = all
        .iter()
        .map(|b| b.name.as_str())
        .filter(|n| !boards.iter().any(|b| b == n))
        .collect();
    html! {
        @if 1 < all.len() {
            nav.stacking aria-label="Boards plugged together" {
                @if 1 < boards.len() {
                    span.legend { "take off" }
                    @for board in boards {
                        @let left: Vec<String> = boards.iter().filter(|b| *b != board).cloned().collect();
                        a href=(path(&left)) { (board) }
                    }
                }
                @if boards.len() < MOST_BOARDS && !others.is_empty() {
                    span.legend { "plug on" }
                    @for other in others {
                        @let more: Vec<String> = boards.iter().cloned().chain([other.to_owned()]).collect();
                        a href=(path(&more)) { (other) }
                    }
                }
            }
        }
    }
}
