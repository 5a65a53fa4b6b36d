//! The discharge curve of a setting: the picture along which the cells are drawn, with a slider over it.

use std::time::Duration;

use lastvolt_core::circuit::{CellDrive, Point, Situation};
use lastvolt_core::model::Device;
use lastvolt_core::time::{Climate, Life};
use maud::{Markup, PreEscaped, html};

use crate::draw::curves::{Band, Upright};
use crate::draw::discharge::{DischargePicture, Line};
use crate::report::{typeset, working_bands};
use crate::text::ending::cause_sentence;
use crate::text::number::{duration, percent};
use crate::view::RunView;
use crate::web::lives::{LifeKey, life_within};
use crate::web::server::Asked;
use crate::web::setting::Ambient;

/// Depths at which the curve is solved, from fresh to empty.
const DEPTHS: u32 = 101;
/// Steps of the slider from fresh to empty.
const STEPS: f64 = 1000.0;
/// Cell and rail closer than this are one line, in volts.
const SAME: f64 = 0.02;

/// Voltages over depth in a setting.
#[derive(Default)]
struct Sweep {
    rail: Vec<(f64, f64)>,
    /// Per cell, of the first cell part.
    cell: Vec<(f64, f64)>,
}

/// How long a page waits for the life, and how long the curve by itself.
pub(crate) const BRIEFLY: Duration = Duration::from_millis(120);
pub(crate) const LONG: Duration = Duration::from_secs(20);

/// The picture with its slider; a sentence where there is nothing to be drawn.
pub(crate) fn curve_figure(asked: &Asked, patience: Duration) -> Markup {
    if asked.circuit.cell_names().is_empty() {
        return html! {
            p.quiet { "No cell feeds these boards: there is nothing to be drawn." }
        };
    }
    let key = life_key(asked);
    let life = key
        .as_ref()
        .and_then(|key| life_within(asked.sound, key, patience));
    let awaits = key.is_some() && life.is_none();
    let run = life
        .as_deref()
        .and_then(|life| life.as_ref().ok())
        .map(|life| (run(asked, life), life));
    let depth = asked.setting.situation.depth;
    let picture = picture(asked, run.as_ref());
    html! {
        h2 #curve-head { "From fresh to empty" }
        div.slider data-awaits=[awaits.then_some("")] {
            (PreEscaped(picture.draw()))
            input.over #depth type="range" min="0" max=(STEPS) step="5" value=(depth * STEPS)
                aria-label="Share of the charge that is drawn" aria-valuetext=(typeset(&format!("{} drawn", percent(depth))));
        }
        p.quiet {
            (typeset(&picture.description)) " "
            "Drag along the curve, or use the arrow keys: the figures of the circuit follow. "
            "Full lines are rested cells in this setting, the broken line is the lowest instant of the profile's tasks in use."
        }
    }
}

fn picture<'a>(asked: &Asked, run: Option<&(RunView, &'a Life)>) -> DischargePicture<'a> {
    let boards = asked.setting.boards.join(" + ");
    let mut lines = lines(asked);
    let (mut bands, mut end, mut times) = (Vec::new(), None, Vec::new());
    let mut description = "Voltages over the share of the charge that is drawn.".to_owned();
    if let Some((run, life)) = run {
        lines.extend(in_use(life));
        bands = bands_of(asked, run);
        end = ending(life);
        let trace = &life.trace;
        times = trace
            .time_secs
            .iter()
            .copied()
            .zip(trace.depth.iter().copied())
            .collect();
        description = cause_sentence(run, asked.circuit.family());
    }
    DischargePicture {
        title: format!("Discharge of {boards}"),
        description,
        lines,
        bands,
        end,
        marks: Vec::new(),
        times,
        depth: asked.setting.situation.depth,
    }
}

/// Rail and cell, rested, in the setting.
fn lines<'a>(asked: &Asked) -> Vec<Line<'a>> {
    let sweep = sweep(asked);
    let apart = |(a, b): (&(f64, f64), &(f64, f64))| SAME < (a.1 - b.1).abs();
    let several = sweep.rail.iter().zip(&sweep.cell).any(apart);
    let mut lines = vec![Line {
        name: "rail as set",
        class: "rail-rest",
        points: sweep.rail,
    }];
    if several {
        lines.push(Line {
            name: "cell as set",
            class: "cell-rest",
            points: sweep.cell,
        });
    }
    lines.retain(|line| 1 < line.points.len());
    lines
}

/// Solves the setting at every depth; where it has no operating point the lines have a gap.
fn sweep(asked: &Asked) -> Sweep {
    let mut out = Sweep::default();
    let rail = asked.circuit.family().connector.rail();
    let mut near: Option<Point> = None;
    for at in 0..DEPTHS {
        let depth = f64::from(at) / f64::from(DEPTHS - 1);
        let situation = Situation {
            depth,
            ..asked.setting.situation.clone()
        };
        let solved = asked
            .circuit
            .solve(&situation, &CellDrive::Rested, near.as_ref());
        let Ok(point) = solved else { continue };
        if let Some(volts) = rail.and_then(|net| point.net(net)) {
            out.rail.push((depth, volts));
        }
        if let Some(volts) = cell_volts(asked, &point) {
            out.cell.push((depth, volts));
        }
        near = Some(point);
    }
    out
}

/// Voltage of one cell of the first cell part.
fn cell_volts(asked: &Asked, point: &Point) -> Option<f64> {
    let parts = asked.circuit.parts();
    let (name, series) = parts.iter().find_map(|(name, part)| match &part.device {
        Device::Cell(cell) => Some((name, cell.series)),
        _ => None,
    })?;
    let volts = point.part(name)?.volts;
    #[expect(clippy::cast_precision_loss, reason = "few cells")]
    let count = series.max(1) as f64;
    Some(volts / count)
}

/// The lowest instants on the way.
fn in_use<'a>(life: &Life) -> Option<Line<'a>> {
    let trace = &life.trace;
    let points: Vec<(f64, f64)> = trace
        .depth
        .iter()
        .copied()
        .zip(trace.rail.lowest_volts.iter().copied())
        .collect();
    (1 < points.len()).then_some(Line {
        name: "rail in a burst",
        class: "rail-lowest",
        points,
    })
}

/// Where the life ends.
fn ending(life: &Life) -> Option<Upright> {
    let secs = life.life_secs?;
    Some(Upright {
        class: "end",
        words: typeset(&format!("ends after {}", duration(secs))),
        at: life.end.depth,
    })
}

fn bands_of(asked: &Asked, run: &RunView) -> Vec<Band> {
    let family = asked.circuit.family();
    let board = asked.circuit.boards().first().copied();
    board.map_or_else(Vec::new, |board| {
        working_bands(&family.loads_of(board), run)
    })
}

fn run(asked: &Asked, life: &Life) -> RunView {
    let profile = asked.setting.profile(asked.circuit.family());
    RunView::new(
        &asked.setting.boards[0],
        profile.map(|p| p.name.as_str()),
        climate(asked),
        life,
    )
}

fn climate<'a>(asked: &Asked<'a>) -> Climate<'a> {
    match asked.setting.ambient {
        Ambient::Usual => Climate::usual(&asked.sound.family.model),
        _ => asked.setting.situation.ambient.into(),
    }
}

/// The life of a board alone with its cells as they belong; others have none that could be told.
pub(crate) fn life_key(asked: &Asked) -> Option<LifeKey> {
    let setting = &asked.setting;
    let situation = &setting.situation;
    let [board] = setting.boards.as_slice() else {
        return None;
    };
    if !situation.reversed.is_empty() || !situation.absent.is_empty() {
        return None;
    }
    #[expect(clippy::cast_possible_truncation, reason = "temperatures are small")]
    let milli = (situation.ambient.as_celsius() * 1e3).round() as i32;
    Some(LifeKey {
        board: board.clone(),
        profile: setting
            .profile(asked.circuit.family())
            .map(|p| p.name.clone()),
        ambient: (setting.ambient != Ambient::Usual).then_some(milli),
        positions: situation.positions.clone(),
    })
}
