//! What the results of a board rest on without its being stated for the part at hand: models from
//! memory, figures that are left out, classes of parts, figures without limits. The least sure first;
//! how much each moves the run time is not worked out here.

use lastvolt_core::model::{Board, Confidence, Device, Kind, Law, Load, Part};
use lastvolt_core::quantity::{Bearing, Properties, Quantity, Spread, Unit};
use lastvolt_input::Assumed;

use crate::cli::load::Family;
use crate::text::number::{figure, listed, nominal};
use crate::view::AssumptionView;

/// Everything of one board.
pub(super) fn assumptions(family: &Family, board: &Board) -> Vec<AssumptionView> {
    let mut out = Gathered(Vec::new());
    let sure = |part: &Part, confidence| part.origin.confidence == confidence;
    for part in board.parts.iter().filter(|p| sure(p, Confidence::Memory)) {
        out.model("memory", part);
    }
    for one in family.spans.assumed(&board.name) {
        let kind = board.part(&one.part).map(|p| p.kind);
        out.add(AssumptionView {
            basis: "default",
            parts: vec![one.part.clone()],
            key: Some(one.key.clone()),
            what: one.means.to_owned(),
            stands: stands(board, one),
            feeds: kind.map_or(VOLTAGES, |k| feeds(k, &one.key)),
        });
    }
    for part in board.parts.iter().filter(|p| p.origin.class) {
        if !sure(part, Confidence::Memory) {
            out.model("class", part);
        }
    }
    for part in board.parts.iter().filter(|p| !p.origin.class) {
        if sure(part, Confidence::Typical) {
            out.model("typical", part);
        }
    }
    // What a class or a memory says is told once, for all of its figures.
    let whole = |part: &&Part| !part.origin.class && sure(part, Confidence::DataSheet);
    for part in board.parts.iter().filter(whole) {
        let left_out = |key: &str| {
            let mut all = family.spans.assumed(&board.name).iter();
            all.any(|a| a.part == part.name && a.key == key)
        };
        for (key, value) in without_limits(&part.device) {
            if !left_out(&key) {
                out.add(unlimited(&part.name, part.kind, key, value));
            }
        }
    }
    for load in family.model.loads_of(board) {
        out.0.extend(load_assumption(load));
    }
    out.0
}

/// What holds in the place of a figure: the figure itself where the words leave open which.
fn stands(board: &Board, one: &Assumed) -> String {
    let device = board.part(&one.part).map(|p| &p.device);
    match (device, one.key.as_str()) {
        (Some(Device::Regulator(u)), "response") if u.response.is_some() => {
            let secs = u.response.map_or(0.0, |t| t.as_secs());
            figure(secs, Unit::Second)
        }
        (Some(Device::Supply(s)), "cable") if s.cable.is_some() => {
            nominal(s.cable.map_or(0.0, Quantity::si), Unit::Henry)
        }
        _ => one.stands.replace('`', ""),
    }
}

/// What was found so far; what differs in the part alone is one entry.
struct Gathered(Vec<AssumptionView>);

impl Gathered {
    fn add(&mut self, new: AssumptionView) {
        let same = |old: &&mut AssumptionView| {
            (old.basis, &old.key, &old.stands, old.feeds)
                == (new.basis, &new.key, &new.stands, new.feeds)
        };
        match self.0.iter_mut().find(same) {
            Some(old) => old.parts.extend(new.parts),
            None => self.0.push(new),
        }
    }

    /// All figures of the model of a part.
    fn model(&mut self, basis: &'static str, part: &Part) {
        let name = part.origin.model.as_deref().unwrap_or("written in place");
        self.add(AssumptionView {
            basis,
            parts: vec![part.name.clone()],
            key: None,
            what: format!("all figures of the {}", part.kind.word()),
            stands: name.to_owned(),
            feeds: of_kind(part.kind),
        });
    }
}

fn unlimited(part: &str, kind: Kind, key: String, value: String) -> AssumptionView {
    AssumptionView {
        basis: "no-limits",
        parts: vec![part.to_owned()],
        what: format!("{} of the {}", key.replace(['.', '_'], " "), kind.word()),
        feeds: feeds(kind, &key),
        key: Some(key),
        stands: value,
    }
}

/// Keys and values of the figures that have neither a lowest nor a highest.
fn without_limits(device: &Device) -> Vec<(String, String)> {
    struct Single(Vec<(String, String)>);
    impl Properties for Single {
        fn spread<Q: Quantity>(&mut self, key: &str, _: Bearing, value: &mut Spread<Q>) {
            if value.min.is_none() && value.max.is_none() && value.si() != 0.0 {
                self.0.push((key.to_owned(), nominal(value.si(), Q::UNIT)));
            }
        }
    }
    let mut found = Single(Vec::new());
    device.clone().visit(&mut found);
    found.0
}

/// States of a load whose current or power has one figure.
fn load_assumption(load: &Load) -> Option<AssumptionView> {
    let single = |law: &Law| match law {
        Law::Current(s) => s.max.is_none(),
        Law::Resistance(s) => s.min.is_none(),
        Law::Power(s) => s.max.is_none(),
    };
    let states = load.states.iter().filter(|s| single(&s.law));
    let states: Vec<&str> = states.map(|s| s.name.as_str()).collect();
    (!states.is_empty()).then(|| AssumptionView {
        basis: "no-limits",
        parts: vec![load.name.clone()],
        key: Some("states".to_owned()),
        what: "what the load takes, without the most that it may take".to_owned(),
        stands: format!("as stated in {}", listed(&states)),
        feeds: RUN_TIME,
    })
}

const RUN_TIME: &str = "standing current, run time";
const VOLTAGES: &str = "voltage drops, bursts, the end of the life";
const SITUATIONS: &str = "what happens when switched, reversed or plugged together";

/// What a figure of a part feeds.
fn feeds(kind: Kind, key: &str) -> &'static str {
    let head = key.split('.').next().unwrap_or(key);
    match (head, key) {
        (_, "holder.reversed") => SITUATIONS,
        ("quiescent" | "shutdown" | "leakage" | "bias" | "loss" | "efficiency", _)
        | (_, "enable.leakage") => RUN_TIME,
        ("off_leakage" | "gate_leakage" | "leakage_at", _) => RUN_TIME,
        ("self_discharge" | "ageing", _) => "run time, shelf time",
        ("spread", _) => "the spread from unit to unit",
        ("temperature", _) => "life and bursts in cold and heat",
        ("charge" | "wells", _) => "run time",
        ("response" | "start" | "inrush", _) => "bursts and starts",
        ("cable", _) => "plugging in",
        ("reverse" | "when_off" | "reverse_blocking" | "pass_diode" | "action", _) => SITUATIONS,
        ("hysteresis" | "threshold" | "output", _) if kind == Kind::Detector => "reset and start",
        ("output" | "reference", _) => "the voltage of the rail",
        ("value", _) if kind == Kind::Capacitor => "bursts and starts",
        ("value", _) if kind == Kind::Inductor => "peaks and ripple of the converter",
        ("value", _) => "the currents and voltages that it sets",
        _ => VOLTAGES,
    }
}

/// What the figures of a part feed as a whole.
fn of_kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Cell => "run time and its end, bursts, output",
        Kind::Supply => "the voltage of the rail",
        Kind::Ldo | Kind::Buck | Kind::Boost | Kind::BuckBoost => {
            "run time, the voltage of the rail, bursts, output"
        }
        Kind::Diode | Kind::Zener | Kind::PFet | Kind::NFet => {
            "voltage drops, leakage, reversed cells"
        }
        Kind::LoadSwitch | Kind::IdealDiode => "voltage drops, leakage, reversed cells",
        Kind::Led => "its current, run time while it is lit",
        Kind::Capacitor => "bursts, leakage",
        Kind::Inductor => "peaks and ripple of the converter",
        Kind::Detector => "standing current, reset and start",
        Kind::Switch | Kind::Jumper | Kind::Fuse | Kind::Ptc => VOLTAGES,
        Kind::Resistor | Kind::Load | Kind::TestPoint => "the currents and voltages that it sets",
    }
}
