//! The parameters of a fitted cell: name, value with its unit, limits, and whether the data say it.

use lastvolt_core::fit::{Pinned, Property};
use lastvolt_core::quantity::Unit;
use serde::Serialize;

use crate::view::{Named, Num};

/// One parameter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct ParameterView {
    /// Its name, which stays the same.
    pub(crate) name: &'static str,
    /// Depth, ambient or number of the branch that it belongs to; then its value and its 90 % limits.
    #[serde(flatten)]
    pub(crate) figures: Named<Num>,
    /// How much narrower the data make it than what was expected before, 0 to 1.
    pub(crate) told_share: Num,
    /// Whether the data say it; otherwise the cell does that the fit began from.
    pub(crate) from_data: bool,
    /// What it is, in words.
    #[serde(skip)]
    pub(crate) says: String,
    #[serde(skip)]
    pub(crate) value: f64,
    #[serde(skip)]
    pub(crate) limits: (f64, f64),
    /// None for a plain number.
    #[serde(skip)]
    pub(crate) unit: Option<Unit>,
}

/// What a parameter is: name, where it belongs, words and unit.
struct Kind {
    name: &'static str,
    at: Vec<(&'static str, f64)>,
    says: String,
    unit: Option<Unit>,
}

impl ParameterView {
    /// The document of a parameter; none where nothing can turn it, as at the reference temperature.
    pub(crate) fn new(pinned: &Pinned) -> Option<Self> {
        let (low, high) = pinned.limits;
        if low >= high {
            return None;
        }
        let kind = kind(pinned.property);
        let end = match kind.unit {
            Some(Unit::Coulomb) => "_as",
            Some(Unit::Volt) => "_v",
            Some(Unit::Ohm) => "_ohm",
            Some(Unit::Ampere) => "_a",
            Some(Unit::Second) => "_s",
            Some(Unit::PerSecond) => "_per_s",
            Some(Unit::Fraction) => "_share",
            _ => "",
        };
        let at = kind.at.iter().map(|(k, v)| ((*k).to_owned(), Num(*v)));
        let values = [("value", pinned.value), ("low", low), ("high", high)];
        let values = values.map(|(key, v)| (format!("{key}{end}"), Num(v)));
        Some(Self {
            name: kind.name,
            figures: at.chain(values).collect(),
            told_share: Num(pinned.told),
            from_data: pinned.is_told(),
            says: kind.says,
            value: pinned.value,
            limits: pinned.limits,
            unit: kind.unit,
        })
    }
}

fn kind(property: Property) -> Kind {
    let plain = |name, says: &str, unit| Kind {
        name,
        at: Vec::new(),
        says: says.to_owned(),
        unit: Some(unit),
    };
    match property {
        Property::Charge => plain("charge", "all charge", Unit::Coulomb),
        Property::OpenCircuit(depth) => at_depth("open_circuit", "open circuit", depth, Unit::Volt),
        Property::Resistance(depth) => at_depth("resistance", "resistance", depth, Unit::Ohm),
        Property::Available => plain("available", "share of the available well", Unit::Fraction),
        Property::WellRate => plain("well_rate", "rate of the wells", Unit::PerSecond),
        Property::Ratio(n) => branch("branch_ratio", "ratio", n, None),
        Property::BranchTime(n) => branch("branch_time", "time", n, Some(Unit::Second)),
        Property::ActivationVolts => plain("activation", "activation voltage", Unit::Volt),
        Property::ActivationCurrent => {
            plain("activation_current", "activation current", Unit::Ampere)
        }
        Property::FilmResistance => plain("film_resistance", "resistance of the film", Unit::Ohm),
        Property::FilmGrowth => plain("film_growth", "growth of the film", Unit::Second),
        Property::FilmBurnOff => plain("film_burn_off", "burn-off of the film", Unit::Coulomb),
        Property::ShiftAt(celsius) => Kind {
            unit: Some(Unit::Volt),
            ..at_ambient("open_circuit_shift", "shift of the open circuit", celsius)
        },
        Property::ResistanceAt(celsius) => {
            at_ambient("resistance_factor", "factor on resistance", celsius)
        }
        Property::RateAt(celsius) => at_ambient("rate_factor", "factor on the rate", celsius),
        Property::BranchAt(n, celsius) => {
            let says = format!("factor on branch {}", n + 1);
            let mut kind = at_ambient("branch_factor", &says, celsius);
            kind.at.insert(0, ("branch", number(n)));
            kind
        }
        Property::SelfDischarge => plain("self_discharge", "self-discharge", Unit::PerSecond),
        Property::Ageing => plain("ageing", "growth of the resistance", Unit::PerSecond),
    }
}

fn at_depth(name: &'static str, says: &str, depth: f64, unit: Unit) -> Kind {
    Kind {
        name,
        at: vec![("depth", depth)],
        says: format!("{says} at depth {depth}"),
        unit: Some(unit),
    }
}

fn at_ambient(name: &'static str, says: &str, celsius: f64) -> Kind {
    Kind {
        name,
        at: vec![("ambient_c", celsius)],
        says: format!("{says} at {celsius} degC"),
        unit: None,
    }
}

fn branch(name: &'static str, says: &str, n: usize, unit: Option<Unit>) -> Kind {
    Kind {
        name,
        at: vec![("branch", number(n))],
        says: format!("{says} of branch {}", n + 1),
        unit,
    }
}

/// Number of a branch as people count.
#[expect(
    clippy::cast_precision_loss,
    reason = "a cell has a handful of branches"
)]
fn number(n: usize) -> f64 {
    (n + 1) as f64
}
