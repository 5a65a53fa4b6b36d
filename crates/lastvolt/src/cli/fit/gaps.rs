//! What the data leave open, and which measurement would say it: found from the parameters that the
//! data do not tell and from the kinds of tests that are there.

use lastvolt_core::fit::{Demand, Drive, Duty, Pinned, Property, Test, Value};

use super::Job;
use crate::text::number::{celsius, listed};
use crate::view::GapView;

/// Below this share of the largest current a log rests.
const RESTS: f64 = 0.02;
/// Two currents are different ones from this ratio on.
const APART: f64 = 2.0;
/// A pause shorter than this tells nothing of the wells.
const PAUSE_SECS: f64 = 600.0;
/// A load shorter than this is a pulse.
const PULSE_SECS: f64 = 120.0;

/// What kinds of tests are there.
#[derive(Default)]
struct Kinds {
    celsius: Vec<f64>,
    amps: Vec<f64>,
    pulses: bool,
    pauses: bool,
    rests: bool,
    ends: bool,
    aged: bool,
}

impl Kinds {
    fn of(job: &Job<'_>) -> Self {
        let mut kinds = Self::default();
        let volts = job.like.model.open_circuit.at(0.5);
        for test in &job.measured.tests {
            let log = matches!(test.drive, Drive::Log(_));
            if log || test.readings.iter().any(|r| r.fitted) {
                kinds.take(test, volts);
            }
        }
        kinds.celsius.sort_by(f64::total_cmp);
        kinds.amps.sort_by(f64::total_cmp);
        kinds
    }

    fn take(&mut self, test: &Test, volts: f64) {
        self.celsius.push(test.ambient.as_celsius());
        self.aged |= 0.0 < test.age.as_secs();
        match &test.drive {
            Drive::Duty(duty) => self.take_duty(duty, volts),
            Drive::Log(_) => self.take_log(test),
            Drive::Rest => {}
        }
        for reading in test.readings.iter().filter(|r| r.fitted) {
            match reading.value {
                Value::Service { .. } => self.ends = true,
                Value::Pulse { pulse, .. } | Value::Resistance { pulse, .. } => {
                    self.pulses = true;
                    self.amps.extend(amps(pulse.demand, volts));
                }
                Value::Rest { .. } => self.rests = true,
                Value::Volts { .. } => {}
            }
        }
    }

    fn take_duty(&mut self, duty: &Duty, volts: f64) {
        let steps = duty.steps.iter();
        self.amps
            .extend(steps.filter_map(|s| amps(s.demand, volts)));
        let loaded = |secs: f64| secs <= PULSE_SECS;
        let windows = duty.windows.iter();
        self.pulses |= 1 < duty.steps.len() || windows.clone().any(|w| loaded(w.on.as_secs()));
        self.pauses |= windows
            .clone()
            .any(|w| PAUSE_SECS <= w.every.as_secs() - w.on.as_secs());
    }

    fn take_log(&mut self, test: &Test) {
        let Drive::Log(points) = &test.drive else {
            return;
        };
        let amps: Vec<f64> = points.iter().map(|p| p.amps.as_amps()).collect();
        let most = amps.iter().copied().fold(0.0, f64::max);
        self.amps
            .extend(amps.iter().copied().filter(|i| RESTS * most < *i));
        let mut resting_from: Option<f64> = None;
        for pair in points.windows(2) {
            let (a, b) = (pair[0].amps.as_amps(), pair[1].amps.as_amps());
            self.pulses |= 0.2 * most < (a - b).abs();
            let at = pair[0].time.as_secs();
            if a <= RESTS * most {
                let from = *resting_from.get_or_insert(at);
                let rested = pair[1].time.as_secs() - from;
                self.pauses |= PAUSE_SECS <= rested && 0.0 < from;
                self.rests |= PAUSE_SECS <= rested;
            } else {
                resting_from = None;
            }
        }
        let volts = |k: usize| points.get(k).map_or(0.0, |p| p.volts.as_volts());
        self.ends |= volts(points.len().saturating_sub(1)) < 0.8 * volts(0);
    }

    /// Whether the lightest and the heaviest current lie apart.
    fn one_current(&self) -> bool {
        match (self.amps.first(), self.amps.last()) {
            (Some(low), Some(high)) => *high < APART * *low,
            _ => true,
        }
    }
}

fn amps(demand: Demand, volts: f64) -> Option<f64> {
    match demand {
        Demand::Rest => None,
        Demand::Current(i) => Some(i.as_amps()),
        Demand::Resistance(r) => Some(volts / r.as_ohms()),
        Demand::Power(p) => Some(p.as_watts() / volts),
    }
}

/// A group of parameters that are open or told together.
struct Group {
    name: &'static str,
    words: &'static str,
    holds: fn(&Property) -> bool,
    measure: &'static str,
}

/// The groups, the weightiest first.
const GROUPS: [Group; 10] = [
    Group {
        name: "charge",
        words: "all charge",
        holds: |p| matches!(p, Property::Charge),
        measure: TO_THE_END,
    },
    Group {
        name: "open-circuit",
        words: "open-circuit voltage over depth",
        holds: |p| matches!(p, Property::OpenCircuit(_)),
        measure: AT_REST,
    },
    Group {
        name: "resistance",
        words: "resistance over depth",
        holds: |p| matches!(p, Property::Resistance(_)),
        measure: PULSES,
    },
    Group {
        name: "branches",
        words: "polarisation branches",
        holds: |p| matches!(p, Property::Ratio(_) | Property::BranchTime(_)),
        measure: LONG_PULSES,
    },
    Group {
        name: "wells",
        words: "wells",
        holds: |p| matches!(p, Property::Available | Property::WellRate),
        measure: PAUSED,
    },
    Group {
        name: "activation",
        words: "charge transfer",
        holds: |p| matches!(p, Property::ActivationVolts | Property::ActivationCurrent),
        measure: SMALL,
    },
    Group {
        name: "film",
        words: "passivation film",
        holds: is_film,
        measure: FILM,
    },
    Group {
        name: "cold",
        words: "factors for cold",
        holds: |p| ambient(p).is_some_and(|c| c < 20.0),
        measure: COLD,
    },
    Group {
        name: "heat",
        words: "factors for heat",
        holds: |p| ambient(p).is_some_and(|c| 20.0 < c),
        measure: HEAT,
    },
    Group {
        name: "ageing",
        words: "self-discharge and ageing",
        holds: |p| matches!(p, Property::SelfDischarge | Property::Ageing),
        measure: SHELF,
    },
];

fn is_film(property: &Property) -> bool {
    matches!(
        property,
        Property::FilmResistance | Property::FilmGrowth | Property::FilmBurnOff
    )
}

/// Everything that the data leave open, the weightiest first.
pub(super) fn gaps(job: &Job<'_>) -> Vec<GapView> {
    let kinds = Kinds::of(job);
    let groups = GROUPS.iter();
    groups
        .filter_map(|group| gap(group, &kinds, &job.fitted.pinned))
        .collect()
}

fn gap(group: &Group, kinds: &Kinds, pinned: &[Pinned]) -> Option<GapView> {
    // What nothing can turn, as factors at the reference temperature, is not open.
    let turns = |p: &&Pinned| p.limits.0 < p.limits.1 && (group.holds)(&p.property);
    let all = pinned.iter().filter(turns).count();
    let open = pinned.iter().filter(turns).filter(|p| !p.is_told()).count();
    if open == 0 {
        return None;
    }
    let words = group.words;
    Some(GapView {
        name: group.name,
        parameters: if open < all {
            format!("{words}: {open} of {all} figures")
        } else {
            words.to_owned()
        },
        says: why(group.name, kinds),
        measure: group.measure.to_owned(),
    })
}

/// Why a group is open.
fn why(name: &str, kinds: &Kinds) -> String {
    let (cold, heat) = temperatures(kinds);
    match name {
        "charge" => charge(kinds),
        "open-circuit" => open_circuit(kinds),
        "resistance" => resistance(kinds),
        "branches" => branches(kinds),
        "wells" => wells(kinds),
        "activation" => activation(kinds),
        "film" => FILM_WHY,
        "cold" => return cold,
        "heat" => return heat,
        _ => aged(kinds),
    }
    .to_owned()
}

const TO_THE_END: &str = "discharge one cell until it is empty";
const AT_REST: &str = "let a cell rest for hours at several depths and read its voltage, or discharge one slowly, over weeks";
const PULSES: &str = "draw pulses of a second or two at several depths, each after an hour of rest, and read the voltage before and at the end";
const LONG_PULSES: &str =
    "log voltage through pulses from seconds to an hour and through the rests behind them";
const PAUSED: &str = "discharge one cell without a pause and one with the same load an hour or two a day, both to the end";
const SMALL: &str =
    "read the voltage on load at a tenth and at a hundredth of the heaviest current";
const FILM: &str = "load a cell that has lain for months, and log the first minutes";
const COLD: &str =
    "repeat a discharge and some pulses at 0 degC and at the lowest temperature of use";
const HEAT: &str = "repeat a discharge at the highest temperature of use";
const SHELF: &str =
    "discharge a cell that has lain for a year or more; else take both from the maker's data sheet";
const FILM_WHY: &str = "no load on a cell that had lain long enough is among the data";

fn charge(kinds: &Kinds) -> &'static str {
    if kinds.ends {
        "the tests do not agree on it, or end far from empty"
    } else {
        "no test goes on until the cell is empty"
    }
}

fn open_circuit(kinds: &Kinds) -> &'static str {
    if kinds.rests {
        "the voltages at rest do not reach all depths"
    } else {
        "no voltage at rest is among the data, so that it is told only through loads"
    }
}

fn resistance(kinds: &Kinds) -> &'static str {
    match (kinds.pulses, kinds.one_current()) {
        (false, true) => {
            "there is one current and no pulse, so that the drop by resistance, branches and wells cannot be told apart"
        }
        (false, false) => "there is no pulse, so that resistance and branches cannot be told apart",
        (true, _) => "the pulses do not reach all depths",
    }
}

fn branches(kinds: &Kinds) -> &'static str {
    if kinds.pulses {
        "the pulses are of few lengths"
    } else {
        "no pulse or step of the load is among the data"
    }
}

fn wells(kinds: &Kinds) -> &'static str {
    match (kinds.pauses, kinds.one_current()) {
        (false, true) => {
            "all tests have one current and no pause, in which charge could flow after"
        }
        (false, false) => "no test has a pause in which charge could flow after",
        (true, _) => "the tests with pauses do not differ enough from those without",
    }
}

fn activation(kinds: &Kinds) -> &'static str {
    if kinds.one_current() {
        "there is one current only"
    } else {
        "the currents are too few, or too heavy, to part it from the resistance"
    }
}

fn aged(kinds: &Kinds) -> &'static str {
    if kinds.aged {
        "the cells had not lain long enough to tell"
    } else {
        "every cell was fresh"
    }
}

/// Why the factors for cold and for heat are open.
fn temperatures(kinds: &Kinds) -> (String, String) {
    let (low, high) = match (kinds.celsius.first(), kinds.celsius.last()) {
        (Some(low), Some(high)) => (*low, *high),
        _ => (20.0, 20.0),
    };
    let cold = if low < 15.0 {
        format!("the coldest test is at {}, and few are cold", celsius(low))
    } else {
        format!("no test is in the cold; the coldest is at {}", celsius(low))
    };
    let heat = if 25.0 < high {
        format!("the hottest test is at {}, and few are hot", celsius(high))
    } else {
        format!(
            "no test is in the heat; the hottest is at {}",
            celsius(high)
        )
    };
    (cold, heat)
}

fn ambient(property: &Property) -> Option<f64> {
    match property {
        Property::ShiftAt(c)
        | Property::ResistanceAt(c)
        | Property::RateAt(c)
        | Property::BranchAt(_, c) => Some(*c),
        _ => None,
    }
}

/// The gaps in a sentence for the model.
pub(super) fn sentence(gaps: &[GapView]) -> Option<String> {
    let words: Vec<&str> = gaps.iter().map(|g| g.parameters.as_str()).collect();
    (!words.is_empty()).then(|| listed(&words))
}
