//! What holds in a setting: whether the loads run, what is worked too hard, charged or without a level,
//! and which findings of the review belong to it.

use std::time::Duration;

use lastvolt_core::circuit::{Circuit, MatrixCase, NoPoint, Point, Situation, case};
use lastvolt_core::device::Charging;
use lastvolt_core::model::Device;
use lastvolt_core::quantity::Unit;
use lastvolt_core::review::Finding;
use maud::{Markup, html};

use crate::report::positions::OFF_VOLTS;
use crate::report::{finding_mark, typeset};
use crate::text::number::{celsius, figure, listed, percent};
use crate::view::FindingView;
use crate::web::curve::life_key;
use crate::web::desk::Sound;
use crate::web::lives::life_within;
use crate::web::server::Asked;
use crate::web::setting::{Chosen, Setting};

/// From so many times a rating on, percent say nothing any more.
const MANY: f64 = 3.0;

/// A setting, solved and judged.
pub(crate) struct Held {
    case: MatrixCase,
    /// What each load that does not run lacks.
    unmet: Vec<String>,
    /// Cells that are charged and must not be.
    primary: Vec<String>,
}

impl Held {
    /// Judges a solved setting.
    pub(crate) fn new(
        circuit: &Circuit,
        situation: &Situation,
        point: &Result<Point, NoPoint>,
    ) -> Self {
        let case = case(circuit, situation.clone(), point.clone());
        let parts = circuit.parts();
        let is_primary = |name: &String| {
            let part = parts
                .iter()
                .find(|(n, _)| name == n || name.starts_with(&format!("{n}.")));
            matches!(part.map(|(_, p)| &p.device), Some(Device::Cell(c)) if c.model.charging == Charging::Primary)
        };
        Self {
            primary: case
                .charged
                .iter()
                .filter(|n| is_primary(n))
                .cloned()
                .collect(),
            unmet: point
                .as_ref()
                .map_or_else(|_| Vec::new(), |p| unmet(circuit, situation, p)),
            case,
        }
    }

    /// Whether the loads run: a class of the mark, its word, and a sentence.
    fn verdict(&self) -> (&'static str, &'static str, String) {
        let rail = typeset(&figure(self.case.rail_volts, Unit::Volt));
        match &self.case.point {
            Err(why) => (
                "stop",
                "no point",
                format!("the circuit has no operating point: {why}"),
            ),
            Ok(_) if !self.case.floating.is_empty() => (
                "fix",
                "uncertain",
                format!(
                    "leakage decides what {} does; as solved here the rail is at {rail}",
                    listed(&self.case.floating)
                ),
            ),
            Ok(_) if self.case.powered => (
                "sound",
                "runs",
                format!("every load is in its working range; rail at {rail}"),
            ),
            Ok(_) if self.case.rail_volts.abs() < OFF_VOLTS => {
                ("note", "off", format!("the rail is off, at {rail}"))
            }
            Ok(_) => (
                "stop",
                "not met",
                format!("{}; rail at {rail}", self.unmet.join("; ")),
            ),
        }
    }

    /// What to look at, in sentences.
    fn remarks(&self) -> Vec<String> {
        let mut out = Vec::new();
        if !self.case.charged.is_empty() {
            out.push(format!(
                "current flows into {}: a cell is charged",
                listed(&self.case.charged)
            ));
        }
        if !self.primary.is_empty() {
            let what = if self.primary.len() == 1 {
                "is a primary cell"
            } else {
                "are primary cells"
            };
            out.push(format!(
                "{} {what}: charged, it can leak, burst or burn",
                listed(&self.primary)
            ));
        }
        out.extend(self.case.stressed.iter().map(|stress| {
            let share = share_words(stress.share);
            let of = if stress.share < MANY { " of" } else { "" };
            format!(
                "{}: {} at {share}{of} its rating",
                stress.part, stress.quantity
            )
        }));
        out
    }

    /// The sentence for those who listen.
    pub(crate) fn spoken(&self, setting: &Setting) -> String {
        let (_, _, sentence) = self.verdict();
        typeset(&format!(
            "{} drawn: {sentence}",
            percent(setting.situation.depth)
        ))
    }

    /// The list for the page.
    pub(crate) fn fragment(&self, asked: &Asked) -> Markup {
        let (sound, setting) = (asked.sound, &asked.setting);
        let (class, word, sentence) = self.verdict();
        let remarks = self.remarks();
        html! {
            p.now {
                span class={ "mark " (class) } { (word) }
                (typeset(&sentence)) "; "
                (percent(setting.situation.depth)) " drawn, "
                (typeset(&celsius(setting.situation.ambient.as_celsius())))
            }
            @if let Some(words) = beyond(asked) { p { "! " (typeset(&words)) } }
            @if !remarks.is_empty() {
                ul.remarks { @for remark in &remarks { li { "! " (typeset(remark)) } } }
            }
            (findings(sound, setting))
        }
    }
}

/// That the cells are drawn further than the life goes, where that is known already.
fn beyond(asked: &Asked) -> Option<String> {
    let key = life_key(asked)?;
    let life = life_within(asked.sound, &key, Duration::ZERO)?;
    let life = life
        .as_ref()
        .as_ref()
        .ok()
        .filter(|l| l.life_secs.is_some())?;
    let end = life.end.depth;
    (end < asked.setting.situation.depth).then(|| {
        format!(
            "beyond the end of the life, which comes with {} drawn: these are figures of rested cells; \
             in use the lowest instants of the tasks fall short",
            percent(end)
        )
    })
}

/// Loads that do not run, each with what it gets and needs.
fn unmet(circuit: &Circuit, situation: &Situation, point: &Point) -> Vec<String> {
    let mut out = Vec::new();
    for (name, load) in circuit.loads() {
        let Some(solved) = point.load(&name) else {
            continue;
        };
        let volts = figure(solved.volts, Unit::Volt);
        if !solved.awake {
            out.push(format!("{name} is held in reset at {volts}"));
            continue;
        }
        let state = situation.states.get(&name).and_then(|s| load.state(s));
        let Some(range) = load.working_in(state.unwrap_or(0)) else {
            continue;
        };
        let (from, to) = (range.from.as_volts(), range.to.as_volts());
        if !(from..=to).contains(&solved.volts) {
            let [from, to] = [from, to].map(|v| figure(v, Unit::Volt));
            out.push(format!("{name} gets {volts} and works from {from} to {to}"));
        }
    }
    out
}

/// A share in words that stay readable far above one.
fn share_words(share: f64) -> String {
    if share < MANY {
        percent(share)
    } else {
        format!("{share:.0} times")
    }
}

/// Findings of the review that belong to the setting.
fn findings(sound: &Sound, setting: &Setting) -> Markup {
    let Some(Ok(reviewed)) = sound.reviewed.get() else {
        return html! {};
    };
    let here = reviewed
        .pairs()
        .filter(|(_, found)| belongs(found, setting));
    let here: Vec<&FindingView> = here.map(|(view, _)| view).collect();
    html! {
        @if here.is_empty() {
            p.quiet { "No finding of the review has its worst case in these positions; others are listed below." }
        } @else {
            ul.lines {
                @for view in here {
                    li {
                        (finding_mark(view))
                        a data-choose={ "finding:" (view.id) } href=(chosen(setting, &view.id)) { (view.rule) }
                        " " span.refs { (view.parts.join(", ")) }
                    }
                }
            }
        }
    }
}

fn chosen(setting: &Setting, id: &str) -> String {
    setting
        .with(|s| s.chosen = Some(Chosen::Finding(id.to_owned())))
        .link()
}

/// Whether a finding is about what is set: the same boards, positions, cells and sources. How far the
/// cells are drawn and what the loads do is the finding's own worst case.
pub(crate) fn belongs(finding: &Finding, setting: &Setting) -> bool {
    let now = &setting.situation;
    match &finding.situation {
        Some(found) => {
            let mut boards = [found.boards.clone(), now.boards.clone()];
            boards.iter_mut().for_each(|b| b.sort_unstable());
            boards[0] == boards[1]
                && found.positions == now.positions
                && found.reversed == now.reversed
                && found.absent == now.absent
        }
        None => now.boards.len() == 1 && now.boards[0] == finding.board,
    }
}
