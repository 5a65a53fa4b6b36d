//! The pictures of a life: voltages over time and over depth, where the energy goes, until when it
//! starts again.

use lastvolt_core::model::Load;
use lastvolt_core::quantity::Unit;
use lastvolt_core::time::Life;
use maud::{Markup, PreEscaped, html};

use crate::draw::bars::{Bar, BarPicture, Group, Look};
use crate::draw::curves::{Across, Band, CurvePicture, Line, Panel, Upright};
use crate::draw::flow::{FlowPicture, Goes, Stream, share_of};
use crate::draw::size::both;
use crate::report::board::Section;
use crate::report::life::energy::Fed;
use crate::report::typeset::typeset;
use crate::text::ending::{cause_sentence, cause_words, line_words};
use crate::text::number::{celsius, duration, figure, percent};
use crate::view::{RestartView, RunView};

/// Voltages over time and over depth.
pub(super) fn voltages(s: &Section, run: &RunView, life: &Life) -> Markup {
    let picture = picture(s, run, life);
    html! {
        figure {
            (PreEscaped(picture.draw()))
            figcaption {
                "Voltages over time and against the share of the charge that is drawn. Full lines at rest, broken "
                "lines at the lowest instant of the worst coincidence of tasks; cell voltages are per cell, the "
                "lowest of a string. Where a broken line leaves the tint of its load, that load stops working; "
                "in the panel of the charge, what lies to the right of the end stays in the cells unused."
            }
        }
    }
}

fn picture<'a>(s: &Section, run: &RunView, life: &'a Life) -> CurvePicture<'a> {
    let family = s.input.family;
    let lines = lines(life);
    let over_time = Panel {
        across: Across::Secs,
        along: &life.trace.time_secs,
        marks: marks_in_time(s, run),
    };
    let over_depth = Panel {
        across: Across::Depth,
        along: &life.trace.depth,
        marks: marks_in_depth(s, run, life),
    };
    CurvePicture {
        title: format!(
            "Life of board {}: voltages over time and depth",
            s.board.name
        ),
        description: typeset(&format!(
            "{} {}",
            cause_sentence(run, family),
            message(&lines)
        )),
        lines,
        bands: bands(&family.loads_of(s.board), run),
        panels: vec![over_time, over_depth],
    }
}

/// Where each voltage begins and ends.
fn message(lines: &[Line]) -> String {
    let each = lines.iter().filter_map(|line| {
        let (first, last) = (line.volts.first()?, line.volts.last()?);
        let [first, last] = [first, last].map(|v| figure(*v, Unit::Volt));
        Some(format!("The {} goes from {first} to {last}.", line.name))
    });
    let each: Vec<String> = each.collect();
    each.join(" ")
}

/// The rail, and the cell where it is not the rail.
fn lines(life: &Life) -> Vec<Line<'_>> {
    let trace = &life.trace;
    let line = |name, class, volts| Line { name, class, volts };
    let mut lines = vec![
        line(
            "rail at rest",
            "rail-rest",
            trace.rail.rest_volts.as_slice(),
        ),
        line("rail in a burst", "rail-lowest", &trace.rail.lowest_volts),
    ];
    let same = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 0.02);
    if !same(&trace.cell.rest_volts, &trace.rail.rest_volts) {
        lines.push(line("cell at rest", "cell-rest", &trace.cell.rest_volts));
        lines.push(line(
            "cell in a burst",
            "cell-lowest",
            &trace.cell.lowest_volts,
        ));
    }
    lines.retain(|l| !l.volts.is_empty());
    lines
}

/// The working range of each load and of each state that narrows it, the one that decides the end first.
pub(crate) fn bands(loads: &[&Load], run: &RunView) -> Vec<Band> {
    let mut found: Vec<(bool, Band)> = Vec::new();
    for load in loads {
        let own = load.working.map(|w| (load.name.clone(), None, w));
        let states = load.states.iter().filter_map(|state| {
            let range = state.working?;
            let name = format!("{} in {}", load.name, state.name);
            Some((name, Some(state.name.as_str()), range))
        });
        let ends = run.end.load.as_deref() == Some(load.name.as_str());
        let narrowed = narrowing(load, run.end.state.as_deref());
        let decides = |state: Option<&str>| ends && state == narrowed;
        for (name, state, range) in own.into_iter().chain(states) {
            let ends = (range.from.as_volts(), range.to.as_volts());
            let band = Band::of(&name, ends);
            if !found.iter().any(|f| f.1 == band) {
                found.push((decides(state), band));
            }
        }
    }
    found.sort_by_key(|f| !f.0);
    found.into_iter().map(|f| f.1).collect()
}

/// The state whose range holds in a state: itself where it has one, else none, for that of the load.
fn narrowing<'a>(load: &Load, state: Option<&'a str>) -> Option<&'a str> {
    let own = |name: &&str| {
        let mut states = load.states.iter();
        states.any(|s| s.name == *name && s.working.is_some())
    };
    state.filter(own)
}

/// The end, the cold night and the life that is asked for.
fn marks_in_time(s: &Section, run: &RunView) -> Vec<Upright> {
    let mut marks = Vec::new();
    let mut mark = |class, words: String, at| {
        let words = typeset(&words);
        marks.push(Upright { class, words, at });
    };
    if let Some(life) = run.life_s {
        let words = format!("{} after {}", cause_words(run), duration(life.0));
        mark("end", words, life.0);
    }
    if let Some(cold) = &run.cold_night {
        let words = "one cold night ends it from here".to_owned();
        mark("cold", words, cold.time_s.0);
    }
    if let Some(required) = s.input.family.requirement.life {
        let secs = required.as_secs();
        mark("required", format!("asked for: {}", duration(secs)), secs);
    }
    marks
}

/// The same in depth; the life that is asked for only where it is reached.
fn marks_in_depth(s: &Section, run: &RunView, life: &Life) -> Vec<Upright> {
    let mut marks = Vec::new();
    let mut mark = |class, words: String, at| {
        let words = typeset(&words);
        marks.push(Upright { class, words, at });
    };
    let end = run.end.depth.0;
    if run.life_s.is_some() {
        let words = format!("end at {}", percent(end));
        mark("end", words, end);
    }
    if let Some(cold) = &run.cold_night {
        mark("cold", "one cold night".to_owned(), cold.depth.0);
    }
    let required = s.input.family.requirement.life.map(|l| l.as_secs());
    if let Some(depth) = required.and_then(|secs| depth_at(life, secs)) {
        mark("required", "life asked for".to_owned(), depth);
    }
    marks
}

/// Depth at an instant within the life.
fn depth_at(life: &Life, secs: f64) -> Option<f64> {
    let (times, depths) = (&life.trace.time_secs, &life.trace.depth);
    let after = times.iter().position(|t| secs <= *t)?;
    let (Some(before), Some(&end)) = (after.checked_sub(1), depths.get(after)) else {
        return depths.first().copied();
    };
    let share = (secs - times[before]) / (times[after] - times[before]).max(1e-9);
    Some(depths[before] + share * (end - depths[before]))
}

/// Where the energy goes.
pub(super) fn energy(s: &Section, run: &RunView, fed: &Fed) -> Markup {
    if fed.joules <= 0.0 {
        return html! {};
    }
    let taken = run.ledger.iter().filter(|l| 0.0 < l.joule.0);
    let streams = taken.map(|l| Stream {
        name: line_words(&l.line, Some(s.board)),
        goes: match l.line.as_str() {
            line if line.starts_with("load:") => Goes::ToLoads,
            line if line.ends_with(":left") || line == "stored:capacitors" => Goes::Unused,
            _ => Goes::Lost,
        },
        share: fed.share(l.joule.0),
        said: figure(l.joule.0, Unit::Joule),
    });
    let streams: Vec<Stream> = streams.collect();
    let largest = |goes| {
        let own = streams.iter().filter(move |s| s.goes == goes);
        own.max_by(|a, b| a.share.total_cmp(&b.share))
    };
    let of = |goes| percent(share_of(&streams, goes));
    let most = largest(Goes::Lost).map_or_else(String::new, |s| {
        format!(" The largest loss is {} with {}.", s.name, percent(s.share))
    });
    let picture = FlowPicture {
        title: format!("Where the energy of board {} goes", s.board.name),
        description: typeset(&format!(
            "Of {} {} reaches the loads, {} is lost on the way and {} is never given.{most}",
            fed.whole(),
            of(Goes::ToLoads),
            of(Goes::Lost),
            of(Goes::Unused)
        )),
        from: typeset(&fed.short()),
        streams,
    };
    html! {
        figure {
            (PreEscaped(both(|size| picture.canvas(size))))
            figcaption { "Each stream is as thick as its share of the energy that is fed in." }
        }
    }
}

/// Until when the board starts again, where that is not to its end.
pub(super) fn starts(s: &Section, run: &RunView) -> Markup {
    if run.restart.iter().all(|r| r.always) {
        return html! {};
    }
    let life = run.life_s.map(|l| l.0);
    let runs = Bar {
        secs: life,
        pale_secs: None,
        look: Look::Usual,
        note: match life {
            Some(secs) => format!("once on, runs {}", duration(secs)),
            None => "once on, runs without end".to_owned(),
        },
    };
    let bars = [runs].into_iter();
    let bars = bars.chain(run.restart.iter().map(|r| start_bar(r, life)));
    let picture = BarPicture {
        title: format!("Until when board {} starts again", s.board.name),
        groups: vec![Group {
            name: s.board.name.clone(),
            bars: bars.collect(),
        }],
        required_secs: None,
        required_words: String::new(),
        counted: "time of use",
    };
    html! {
        figure {
            (PreEscaped(both(|size| picture.canvas(size))))
            figcaption { "How long it runs once it is on, and until when it can be switched off and on again." }
        }
    }
}

fn start_bar(restart: &RestartView, life: Option<f64>) -> Bar {
    let at = restart.ambient_c.map(|c| format!(" at {}", celsius(c.0)));
    let at = at.unwrap_or_default();
    let secs = if restart.always {
        life
    } else {
        restart.until_s.map(|u| u.0)
    };
    let until = match secs {
        _ if restart.always => "to its end".to_owned(),
        Some(0.0) | None => "not even fresh".to_owned(),
        Some(secs) => format!("until {}", duration(secs)),
    };
    Bar {
        secs,
        pale_secs: None,
        look: match restart.ambient_c {
            Some(_) => Look::Low,
            None => Look::High,
        },
        note: typeset(&format!("starts{at} {until}")),
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cli::load::load;

    #[test]
    fn the_range_of_a_load_decides_where_a_state_has_none() {
        let dir = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/frost-beacon");
        let family = load(Path::new(dir)).expect("the example").model;
        let mut load = family.loads.first().expect("a load").clone();
        let name = load.states.first().expect("a state").name.clone();
        load.states[0].working = load.working;
        assert!(load.working.is_some());
        assert_eq!(narrowing(&load, Some(&name)), Some(name.as_str()));
        load.states[0].working = None;
        assert_eq!(narrowing(&load, Some(&name)), None);
        assert_eq!(narrowing(&load, None), None);
    }
}
