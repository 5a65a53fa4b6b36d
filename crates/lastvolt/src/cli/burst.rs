//! `burst`: waveforms of a task, of switching on, or of being off for a moment.

use std::fmt::Write as _;
use std::path::PathBuf;

use lastvolt_core::circuit::{Circuit, Situation};
use lastvolt_core::model::{Board, Device, Part, Profile, Task};
use lastvolt_core::time::{
    Followed, NoWave, Occasion, Question, Waveform, concerns, deepest_task, off_position,
};

use crate::cli::load::{Family, load};
use crate::cli::options::{Format, Input};
use crate::cli::point::{first_board, say_first};
use crate::cli::progress::Line;
use crate::cli::resolve::{Resolver, Stated};
use crate::draw::waves;
use crate::failure::{FINE, Failure};
use crate::output::{json, print, write_each};
use crate::text;
use crate::text::number::duration;
use crate::text::paint::Paint;
use crate::text::told::Told;
use crate::view::{BurstView, Document};

/// Waveforms of a task, of switching on, or of being off for a moment
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    input: Input,
    /// Which board; several are solved stacked on the connector [default: the first]
    #[arg(long, value_name = "NAME")]
    board: Vec<String>,
    /// Whose tasks and base states [default: the first profile]
    #[arg(long, value_name = "NAME")]
    profile: Option<String>,
    /// Which task; several start at the same instant [default: the one that pulls the rail lowest]
    #[arg(long, value_name = "NAME", conflicts_with_all = ["start", "off"])]
    task: Vec<String>,
    /// Switch on: with the switch that takes the voltage off the rail, or by putting the cells in
    #[arg(long, conflicts_with = "off")]
    start: bool,
    /// Running, then switched off for so long ("200 ms"), and on again
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    off: Option<String>,
    /// How long to follow after the last edge ("50 ms") [default: until it has settled]
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    span: Option<String>,
    /// Write the waveforms as a table into this file (comma-separated, one row an instant)
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write a picture of the waveforms into this file (SVG)
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
    #[command(flatten)]
    stated: Stated,
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    let family = load(&args.input.dir)?;
    super::show_slips(&family);
    let mut resolver = Resolver::new(&family.model);
    let mut boards = resolver.boards(&args.board);
    let profile = resolver.profile(args.profile.as_deref());
    if boards.is_empty() {
        boards = first_board(&family.model);
    }
    let circuit = Circuit::new(&family.model, &boards)
        .map_err(|board| Failure::Fault(format!("no board {board}")))?;
    let (mut situation, mut warnings) = resolver.situation(&circuit, profile, &args.stated);
    let tasks = tasks(&mut resolver, profile, &args.task);
    let off_ns = args.off.as_deref().map(|t| resolver.nanos("--off", t));
    let tail_ns = args.span.as_deref().map(|t| resolver.nanos("--span", t));
    resolver.finish()?;
    let asked = Asked {
        start: args.start,
        off_ns: off_ns.flatten(),
        tasks,
    };
    let occasion = occasion(&circuit, &mut situation, profile, asked)?;
    let question = Question {
        circuit: &circuit,
        situation: &situation,
        cells: None,
        occasion,
        tail_ns: tail_ns.flatten(),
    };
    let followed = follow(&family, &boards, &question)?;
    warnings.extend(idle_tasks(&circuit, &question.occasion));
    let told = Told {
        circuit: &circuit,
        occasion: &question.occasion,
        followed: &followed,
        chosen: args.task.is_empty(),
    };
    warnings.extend(told.hazards());
    let task = match &question.occasion {
        Occasion::Tasks(tasks) => {
            let names: Vec<&str> = tasks.iter().map(|t| t.name.as_str()).collect();
            Some(names.join(" + "))
        }
        _ => None,
    };
    let view = BurstView::new(&situation, task, &followed);
    let document = Document::new(&family.digest, warnings, view);
    let answer = match args.input.format {
        Format::Json => json(&document)?,
        Format::Text => text::burst::text(&document, &told, Paint::for_stdout()),
    };
    let mut files = Vec::new();
    if let Some(path) = &args.csv {
        files.push((path.as_path(), csv(&followed.wave)));
    }
    if let Some(path) = &args.picture {
        files.push((
            path.as_path(),
            waves::picture(&told, args.span.is_some()).alone(),
        ));
    }
    write_each(&files)?;
    if args.board.is_empty() && args.input.format == Format::Text {
        say_first(&family.model);
    }
    print(&answer)?;
    Ok(FINE)
}

/// What the command line asks to look at.
struct Asked<'f> {
    start: bool,
    off_ns: Option<u64>,
    tasks: Vec<&'f Task>,
}

/// The tasks of these names, each once.
fn tasks<'f>(
    resolver: &mut Resolver,
    profile: Option<&'f Profile>,
    names: &[String],
) -> Vec<&'f Task> {
    let all = profile.map_or(&[][..], |p| &p.tasks);
    let mut out: Vec<&Task> = Vec::new();
    for name in names {
        match all.iter().find(|t| t.name == *name) {
            Some(task) if out.iter().any(|t| t.name == task.name) => {}
            Some(task) => out.push(task),
            None => {
                let known: Vec<&str> = all.iter().map(|t| t.name.as_str()).collect();
                let what = profile.map_or_else(
                    || "task".to_owned(),
                    |p| format!("task of profile {}", p.name),
                );
                resolver.unknown("--task", &what, name, &known);
            }
        }
    }
    out
}

/// What is looked at; a start begins cold.
fn occasion<'f>(
    circuit: &Circuit,
    situation: &mut Situation,
    profile: Option<&'f Profile>,
    asked: Asked<'f>,
) -> Result<Occasion<'f>, Failure> {
    if asked.start {
        let off = off_position(circuit, situation);
        situation.history = lastvolt_core::circuit::History::Cold;
        return Ok(Occasion::Start(off));
    }
    if let Some(span_ns) = asked.off_ns {
        return match off_position(circuit, situation) {
            Some(switch) => Ok(Occasion::Off { switch, span_ns }),
            None => Err(cannot_switch_off(circuit)),
        };
    }
    if !asked.tasks.is_empty() {
        return Ok(Occasion::Tasks(asked.tasks));
    }
    let task = profile.and_then(|p| deepest_task(circuit, situation, p));
    match task {
        Some(task) => Ok(Occasion::Tasks(vec![task])),
        None => Err(no_task(circuit, profile)),
    }
}

fn cannot_switch_off(circuit: &Circuit) -> Failure {
    let rail = circuit.family().connector.rail().unwrap_or("the rail");
    let says = format!(
        "`--off`: no position of one switch takes the voltage off {rail} in this situation"
    );
    let proposal = "`--start` shows the cells or the plug going in";
    Failure::of_option("cannot-switch-off", says, Some(proposal.to_owned()))
}

fn no_task(circuit: &Circuit, profile: Option<&Profile>) -> Failure {
    let board = circuit.boards().first().map_or("", |b| b.name.as_str());
    let says = match profile {
        None => "the family has no profile, so there is no task to follow".to_owned(),
        Some(p) if p.tasks.is_empty() => format!("profile {} has no tasks to follow", p.name),
        Some(p) => format!("no task of profile {} sets a load of board {board}", p.name),
    };
    let proposal = "`--start` shows switching on";
    Failure::of_option("no-task", says, Some(proposal.to_owned()))
}

fn follow(family: &Family, boards: &[String], question: &Question) -> Result<Followed, Failure> {
    let progress = Line::new("following");
    question.follow(&progress).map_err(|why| {
        let board = boards.first().map_or("", String::as_str);
        match &why {
            NoWave::Point(why) => Failure::of_point(family, board, why),
            _ => Failure::of_wave(family, board, &why, proposal(&why, question)),
        }
    })
}

/// What to do where there is no waveform.
fn proposal(why: &NoWave, question: &Question) -> String {
    match why {
        NoWave::TooLong { time_secs, .. } => {
            let plan = question.edges();
            let edge = plan.last().map_or(0.0, |e| e.time_secs);
            match round_down(time_secs - edge) {
                Some(span) => format!("`--span \"{span}\"` follows as far as that"),
                None => format!(
                    "the last edge lies at {}, beyond that: look at a shorter task or time off",
                    duration(edge)
                ),
            }
        }
        NoWave::Oscillates { .. } if !bare_outputs(question.circuit).is_empty() => {
            let bare = bare_outputs(question.circuit).join(", ");
            format!("put a capacitor where there is none: at the output of {bare}")
        }
        NoWave::Oscillates { .. } => {
            "widen the gap between its thresholds (`below` and `release` of a reset; `start` and \
             `runs_down_to`, or `low` and `high` of an enable input), or give its supply more capacitance"
                .to_owned()
        }
        _ => "`lastvolt point` shows the state before; look for a net that is held by nothing but \
              converters, and give it a capacitor"
            .to_owned(),
    }
}

/// Regulators without a capacitor on their output net.
fn bare_outputs(circuit: &Circuit) -> Vec<String> {
    let boards = circuit.boards();
    let bare = circuit.parts().into_iter().filter(|(_, part)| {
        let Device::Regulator(_) = &part.device else {
            return false;
        };
        let Some(out) = part.net("out") else {
            return false;
        };
        let own = |b: &&&Board| b.parts.iter().any(|p| std::ptr::eq(p, *part));
        let Some(board) = boards.iter().find(own) else {
            return false;
        };
        let held = |p: &Part| {
            let touches = p.pins.iter().any(|pin| pin.net == Some(out));
            touches && matches!(p.device, Device::Capacitor(_))
        };
        !board.parts.iter().any(held)
    });
    bare.map(|(name, _)| name).collect()
}

/// A time as an option takes it, rounded down to two digits; none below a nanosecond.
fn round_down(secs: f64) -> Option<String> {
    let units = [(1.0, "s"), (1e-3, "ms"), (1e-6, "us"), (1e-9, "ns")];
    let (unit, name) = units.into_iter().find(|(unit, _)| *unit <= secs)?;
    let decade = 10f64.powf((secs / unit).log10().floor() - 1.0);
    let value = (secs / unit / decade).floor() * decade;
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    Some(format!("{text} {name}"))
}

/// Tasks that were asked for and set no load here.
fn idle_tasks(circuit: &Circuit, occasion: &Occasion) -> Vec<String> {
    let Occasion::Tasks(tasks) = occasion else {
        return Vec::new();
    };
    let idle = tasks.iter().filter(|t| !concerns(circuit, t));
    idle.map(|t| format!("task {} sets no load of this board", t.name))
        .collect()
}

/// Instants, nets, cells and supplies as comma-separated values (RFC 4180).
fn csv(wave: &Waveform) -> String {
    let mut columns: Vec<(String, &[f64])> = vec![("time_s".to_owned(), &wave.time_secs)];
    let volts = wave.nets.iter().map(|(n, v)| (format!("{n}_v"), &v[..]));
    columns.extend(volts);
    let amps = wave.cells.iter().chain(&wave.supplies);
    columns.extend(amps.map(|(n, a)| (format!("{n}_a"), &a[..])));
    let mut out = String::new();
    let head: Vec<String> = columns.iter().map(|c| quoted(&c.0)).collect();
    let _ = write!(out, "{}\r\n", head.join(","));
    for at in 0..wave.time_secs.len() {
        for (column, (_, values)) in columns.iter().enumerate() {
            if column > 0 {
                out.push(',');
            }
            // Adding zero turns -0 into 0.
            let value = values[at] + 0.0;
            let _ = if value == 0.0 || (1e-4..1e6).contains(&value.abs()) {
                write!(out, "{value}")
            } else {
                write!(out, "{value:e}")
            };
        }
        out.push_str("\r\n");
    }
    out
}

/// A field, in quotes where it needs them.
fn quoted(field: &str) -> String {
    if field.contains(['"', ',', '\r', '\n']) {
        format!("\"{}\"", field.replace('"', "\"\""))
    } else {
        field.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_proposed_span_is_never_longer_than_what_was_reached() {
        assert_eq!(round_down(3.279).as_deref(), Some("3.2 s"));
        assert_eq!(round_down(0.0456).as_deref(), Some("45 ms"));
        assert_eq!(round_down(123.4).as_deref(), Some("120 s"));
        assert_eq!(round_down(1e-12), None);
        assert_eq!(round_down(-1.0), None);
    }

    #[test]
    fn fields_of_a_table_are_quoted_where_they_must_be() {
        assert_eq!(quoted("VDD_v"), "VDD_v");
        assert_eq!(quoted("a,\"b\"_v"), "\"a,\"\"b\"\"_v\"");
    }
}
