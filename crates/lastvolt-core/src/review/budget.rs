//! The leakage budget: which part takes how much of the cells' current while nothing happens,
//! typically and at most, switched on and off, at the low, usual and high ambient.
//!
//! # Formula
//! ```text
//! I_row = I_cells P_row / P_cells
//! ```
//! Absorbed powers sum to what the cells give, so the rows sum to the cells' current, through
//! converters too.

use crate::circuit::{CellDrive, Circuit, Point, Situation};
use crate::device::{Capacitor, Dielectric};
use crate::model::{Change, Corner, Device, Family};
use crate::quantity::{Current, Spread, Temperature};

/// The budget of one board.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Budget {
    /// One a state and ambient: switched on first, the low ambient first.
    pub columns: Vec<BudgetColumn>,
}

/// One state at one ambient.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetColumn {
    /// Which of the three ambients: `low`, `usual` or `high`.
    pub which: &'static str,
    /// The temperature.
    pub ambient: Temperature,
    /// Whether the board is switched on.
    pub power: Power,
    /// The situation that was solved.
    pub situation: Situation,
    /// One a part or load that takes anything, in circuit order.
    pub rows: Vec<BudgetRow>,
    /// Current of all cells, typical figures.
    pub typical_amps: f64,
    /// Current of all cells, largest figures and derived leakages of capacitors.
    pub most_amps: f64,
}

/// Whether a board is switched on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Power {
    /// Usual positions.
    On,
    /// A position in which no load is powered.
    Off,
}

/// What one part takes.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetRow {
    /// Name of the part or load.
    pub name: String,
    /// With typical figures.
    pub typical_amps: f64,
    /// With the largest figures.
    pub most_amps: f64,
}

/// The budget in the usual situation and in a switched-off one, where there is one.
#[must_use]
pub(crate) fn budget(family: &Family, usual: &Situation, off: Option<&Situation>) -> Budget {
    let most = with_most_drain(family);
    let ambient = &family.requirement.ambient;
    let ambients = [
        ("low", ambient.low),
        ("usual", ambient.usual),
        ("high", ambient.high),
    ];
    let mut columns = Vec::new();
    for (power, base) in [(Power::On, Some(usual)), (Power::Off, off)] {
        let Some(base) = base else { continue };
        for (which, ambient) in ambients {
            let situation = Situation {
                ambient,
                ..base.clone()
            };
            let rows = (taken(family, &situation), taken(&most, &situation));
            if let (Some(typical), Some(most)) = rows {
                columns.push(column(which, power, situation, &typical, &most));
            }
        }
    }
    Budget { columns }
}

fn column(
    which: &'static str,
    power: Power,
    situation: Situation,
    typical: &[(String, f64)],
    most: &[(String, f64)],
) -> BudgetColumn {
    let mut rows: Vec<BudgetRow> = typical
        .iter()
        .zip(most)
        .map(|((name, typical), (_, most))| BudgetRow {
            name: name.clone(),
            typical_amps: *typical,
            most_amps: *most,
        })
        .collect();
    // Below a picoampere lies only the solver's own accuracy.
    rows.retain(|r| 1e-12 < r.typical_amps.abs().max(r.most_amps.abs()));
    BudgetColumn {
        which,
        ambient: situation.ambient,
        power,
        situation,
        rows,
        typical_amps: typical.iter().map(|r| r.1).sum(),
        most_amps: most.iter().map(|r| r.1).sum(),
    }
}

/// Current of the cells that each part and load accounts for.
fn taken(family: &Family, situation: &Situation) -> Option<Vec<(String, f64)>> {
    let circuit = Circuit::new(family, &situation.boards).ok()?;
    let point = circuit.solve(situation, &CellDrive::Rested, None).ok()?;
    Some(rows(&circuit, &point))
}

fn rows(circuit: &Circuit, point: &Point) -> Vec<(String, f64)> {
    let (mut amps, mut watts) = (0.0, 0.0);
    let mut absorbed = Vec::new();
    for (name, part) in circuit.parts() {
        let Some(solved) = point.part(&name) else {
            continue;
        };
        if matches!(part.device, Device::Cell(_)) {
            amps += solved.amps;
            watts -= solved.watts;
        } else {
            absorbed.push((name, solved.watts));
        }
    }
    absorbed.extend(point.loads.iter().map(|l| (l.name.clone(), l.watts)));
    let volts = if amps.abs() < 1e-15 {
        f64::INFINITY
    } else {
        watts / amps
    };
    absorbed.into_iter().map(|(n, w)| (n, w / volts)).collect()
}

/// The family with its largest drains, and with leakages of capacitors derived where none is stated.
#[must_use]
pub(crate) fn with_most_drain(family: &Family) -> Family {
    let mut most = family
        .with(&[Change::Corner(Corner::MostDrain)])
        .unwrap_or_else(|_| family.clone());
    for board in &mut most.boards {
        for part in &mut board.parts {
            if let Device::Capacitor(c) = &mut part.device
                && c.leakage.is_none()
                && let Some(leak) = derived_leakage(c)
            {
                c.leakage = Some(Spread::exactly(leak.most));
            }
        }
    }
    most
}

/// A leakage that no data sheet of the part states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DerivedLeakage {
    /// The most at rated voltage and 20 to 25 degC.
    pub most: Current,
    /// Where the limit comes from.
    pub basis: &'static str,
}

/// The most that a sound capacitor of its kind leaks at its rated voltage.
///
/// # Formula
/// ```text
/// class 2 ceramic:  V / (50 ohm farad / C)        Murata FAQ 0039
/// class 1 ceramic:  V / min(10 Gohm, 500 ohm farad / C)   (from memory)
/// tantalum:         max(0.01 C V, 0.5 uA), V in volts and C in microfarads   (from memory)
/// aluminium:        max(0.01 C V, 3 uA)           JIS C 5101-4 (from memory)
/// ```
#[must_use]
pub fn derived_leakage(c: &Capacitor) -> Option<DerivedLeakage> {
    let volts = c.rated?.as_volts();
    let farads = c.value.si();
    // 0.01 C V with C in microfarads gives microamperes: the same number in SI units.
    let cv = 0.01 * farads * volts;
    let (amps, basis) = match c.dielectric? {
        Dielectric::Class2X | Dielectric::Class2Y => {
            (volts * farads / 50.0, "Murata FAQ 0039: 50 ohm farad")
        }
        Dielectric::Class1 => (
            volts / (500.0 / farads).min(1e10),
            "common practice: 500 ohm farad or 10 Gohm, from memory",
        ),
        Dielectric::Tantalum => (cv.max(0.5e-6), "common practice: 0.01 C V, from memory"),
        Dielectric::Aluminium | Dielectric::Polymer => {
            (cv.max(3e-6), "JIS C 5101-4: 0.01 C V or 3 uA, from memory")
        }
        Dielectric::Film | Dielectric::DoubleLayer => return None,
    };
    Some(DerivedLeakage {
        most: Current::from_amps(amps),
        basis,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Capacitance, Resistance, Voltage};

    fn leakage(dielectric: Dielectric, farads: f64, volts: f64) -> f64 {
        let c = Capacitor {
            value: Spread::exactly(Capacitance::from_farads(farads)),
            dielectric: Some(dielectric),
            rated: Some(Voltage::from_volts(volts)),
            series_resistance: Spread::exactly(Resistance::from_ohms(0.0)),
            leakage: None,
            bias: None,
        };
        derived_leakage(&c)
            .expect("a rated capacitor")
            .most
            .as_amps()
    }

    /// CP08, CP09: Murata FAQ 0039, GRM188R60J106ME47 and GRM033R61H102KA12 (10 Gohm at 50 V).
    #[test]
    fn ref_murata_faq_0039_insulation() {
        let ten_microfarads = leakage(Dielectric::Class2X, 10e-6, 6.3);
        assert!((ten_microfarads / 1.26e-6 - 1.0).abs() < 1e-3);
        let one_nanofarad = leakage(Dielectric::Class1, 1e-9, 50.0);
        assert!((one_nanofarad / 5e-9 - 1.0).abs() < 1e-3);
    }

    /// CP10 to CP12: 0.01 C V rules, from memory.
    #[test]
    fn ref_electrolytic_leakage_rules_from_memory() {
        assert!((leakage(Dielectric::Tantalum, 10e-6, 6.3) / 0.63e-6 - 1.0).abs() < 1e-3);
        assert!((leakage(Dielectric::Aluminium, 100e-6, 6.3) / 6.3e-6 - 1.0).abs() < 1e-3);
        assert!((leakage(Dielectric::Aluminium, 10e-6, 6.3) / 3.0e-6 - 1.0).abs() < 1e-3);
    }
}
