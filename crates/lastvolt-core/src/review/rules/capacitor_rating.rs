//! `capacitor-rating`: is every capacitor used well below its rated voltage, what is left of it under
//! bias, and what does its leakage cost over the life?
//!
//! | dielectric | share of the rated voltage | source |
//! | --- | --- | --- |
//! | solid tantalum | 0.50 to 70 degC, 0.30 at 110 degC | NASA EEE-INST-002 table 4 |
//! | ceramic, film | 0.80 is a fix (common practice), 0.60 a note (NASA EEE-INST-002 table 4) | |
//! | aluminium, polymer | 0.80 | common practice |
//!
//! Above the rating itself is a stop, and so is the wrong polarity.

use crate::circuit::Situation;
use crate::device::{Capacitor, Dielectric};
use crate::model::{Change, Device, Part};
use crate::quantity::Unit;
use crate::review::evidence::leakage_factor;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Share of its value that a class-2 X ceramic keeps at half to full rated voltage: TI SLVA535B
/// (37 % of a 22 uF 0603 at half its rating) to ADI tutorial 5527 (89 % of a large case).
const CLASS_2X_LEFT: (f64, f64) = (0.33, 0.89);
/// The same for Y and Z types: ADI tutorial 5527 (7 % left) to 60 % at low bias.
const CLASS_2Y_LEFT: (f64, f64) = (0.07, 0.60);
/// Share of the rated voltage from which the loss under bias is worth a word.
const BIASED: f64 = 0.4;

pub(super) struct CapacitorRating;

impl Rule for CapacitorRating {
    fn id(&self) -> RuleId {
        "capacitor-rating"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let mut out = Vec::new();
        for part in &e.board.parts {
            if let Device::Capacitor(c) = &part.device {
                let worst = Worst::of(e, part, c);
                let voltage = worst.and_then(|w| w.finding(e, self.id(), part, c));
                out.extend(voltage);
                out.extend(leakage(e, self.id(), part, c));
            }
        }
        out.extend(bias(e, self.id()));
        out
    }
}

/// The highest share of a capacitor's rated voltage in any forward position.
struct Worst<'e> {
    situation: &'e Situation,
    quantity: &'static str,
    volts: f64,
    rating: f64,
    share: f64,
    count: usize,
}

/// Share of the rated voltage that is practice, severity above it, and where that comes from.
fn practice(c: &Capacitor, celsius: f64) -> Vec<(f64, Severity, &'static str)> {
    match c.dielectric {
        Some(Dielectric::Tantalum) => {
            // Linear between the two published temperatures.
            let hot = ((celsius - 70.0) / 40.0).clamp(0.0, 1.0);
            let share = 0.5 - 0.2 * hot;
            vec![(share, Severity::Fix, "NASA EEE-INST-002 table 4")]
        }
        Some(Dielectric::Aluminium | Dielectric::Polymer | Dielectric::DoubleLayer) => {
            vec![(0.8, Severity::Fix, "common practice")]
        }
        _ => vec![
            (0.8, Severity::Fix, "common practice"),
            (0.6, Severity::Note, "NASA EEE-INST-002 table 4"),
        ],
    }
}

impl<'e> Worst<'e> {
    fn of(e: &'e Evidence, part: &Part, c: &Capacitor) -> Option<Self> {
        let least = practice(c, e.family.requirement.ambient.high.as_celsius());
        let least = least.last().map_or(1.0, |p| p.0);
        let mut worst: Option<Self> = None;
        for high in e.high() {
            for stress in high.stresses.iter().filter(|s| s.part == part.name) {
                let reverse = stress.quantity == "reverse voltage";
                let over = if reverse { 1.0 } else { least };
                if stress.share <= over {
                    continue;
                }
                let count = worst.as_ref().map_or(0, |w| w.count) + 1;
                if worst.as_ref().is_none_or(|w| w.share < stress.share) {
                    worst = Some(Self {
                        situation: &high.situation,
                        quantity: stress.quantity,
                        volts: stress.value,
                        rating: stress.rating,
                        share: stress.share,
                        count,
                    });
                } else if let Some(worst) = &mut worst {
                    worst.count = count;
                }
            }
        }
        worst
    }

    fn finding(&self, e: &Evidence, rule: RuleId, part: &Part, c: &Capacitor) -> Option<Finding> {
        let steps = practice(c, e.family.requirement.ambient.high.as_celsius());
        let first = (1.0, Severity::Stop, "rated voltage of the part");
        let mut all = std::iter::once(first).chain(steps.iter().copied());
        let (allowed, severity, basis) = all.find(|s| s.0 < self.share)?;
        let reverse = self.quantity == "reverse voltage";
        let says = if reverse {
            format!(
                "{} sees {} the wrong way round; it bears {}.",
                part.name,
                words::volts(self.volts),
                words::volts(self.rating)
            )
        } else {
            format!(
                "{} sees {}, {} of its rated {}; practice is {} at most.",
                part.name,
                words::volts(self.volts),
                words::percent(self.share),
                words::volts(self.rating),
                words::percent(allowed)
            )
        };
        let remedy = if reverse {
            "turn it round, or take a type without polarity".to_owned()
        } else {
            // What keeps to practice, and not just to the rating.
            let usual = steps
                .iter()
                .filter(|s| s.1 == Severity::Fix)
                .map(|s| s.0)
                .fold(allowed, f64::min);
            let next = next_rating(self.volts / usual);
            format!("take a type rated {} or more", words::volts(next))
        };
        Some(Finding {
            aspect: self.quantity,
            situation: Some(self.situation.clone()),
            situations: self.count,
            measured: Some(Figure::new(self.volts, Unit::Volt)),
            limit: Some(Figure::new(allowed * self.rating, Unit::Volt)),
            says,
            remedy,
            basis: if reverse {
                "common practice; tantalum 2 % (System Reliability Center part derating)".to_owned()
            } else {
                basis.to_owned()
            },
            ..e.finding(rule, severity, &[&part.name])
        })
    }
}

/// The next rated voltage that the trade offers (common practice: R5 and R10 steps).
fn next_rating(volts: f64) -> f64 {
    const RATINGS: [f64; 12] = [
        2.5, 4.0, 6.3, 10.0, 16.0, 20.0, 25.0, 35.0, 50.0, 63.0, 80.0, 100.0,
    ];
    let found = RATINGS.into_iter().find(|r| volts <= *r);
    found.unwrap_or(volts.ceil())
}

/// What the leakage of a capacitor takes from the life.
fn leakage(e: &Evidence, rule: RuleId, part: &Part, c: &Capacitor) -> Option<Finding> {
    // Cells that are charged, if by leakage alone, have no life that it could shorten.
    let life = e.lasting_life().filter(|l| 0.0 < l.mean_cell_amps)?;
    let rated = c.rated?.as_volts();
    let usual = e.point(&e.usual())?;
    let volts = usual.part(&part.name)?.volts.abs();
    let leakage = c.stated_leakage()?;
    let (typical, most) = (leakage.si(), leakage.high());
    let warm = leakage_factor(usual_ambient(e));
    let at = |amps: f64| amps * warm * volts / rated;
    let share = |amps: f64| at(amps) / (life.mean_cell_amps + at(amps));
    let cost = e.sensitivity.win_share;
    let removed = Change::Remove {
        board: e.board.name.clone(),
        part: part.name.clone(),
    };
    let won = if cost / 2.0 < share(typical) {
        e.win_by_drain(&[removed]).unwrap_or(0.0)
    } else {
        0.0
    };
    let (severity, measured) = if cost < won {
        (e.weight_of_drain(won), at(typical))
    } else if cost < share(most) {
        (Severity::Note, at(most))
    } else {
        return None;
    };
    let how = if cost < won {
        format!("takes {}", words::percent(won / (1.0 + won)))
    } else {
        format!("may take up to {}", words::percent(share(most)))
    };
    Some(Finding {
        aspect: "leakage",
        situation: Some(e.usual()),
        measured: Some(Figure::new(measured, Unit::Ampere)),
        limit: Some(Figure::new(cost * life.mean_cell_amps, Unit::Ampere)),
        says: format!(
            "The leakage of {}, {} at {}, {how} of the life.",
            part.name,
            words::amps(measured),
            words::volts(volts)
        ),
        remedy: format!(
            "ask the maker for a limit at this voltage and look for less than {}, or fit less capacitance",
            words::amps(cost * life.mean_cell_amps)
        ),
        basis: leakage_basis(c).to_owned(),
        ..e.finding(rule, severity, &[&part.name])
    })
}

/// Where the leakage of a capacitor is known from.
fn leakage_basis(c: &Capacitor) -> &'static str {
    match c.dielectric {
        _ if c.leakage.is_some() => "leakage stated for the part",
        Some(Dielectric::Class2X | Dielectric::Class2Y) => "Murata FAQ 0039: 50 ohm farad",
        Some(Dielectric::Tantalum) => "common practice: 0.01 C V, from memory",
        Some(Dielectric::Aluminium | Dielectric::Polymer) => {
            "JIS C 5101-4: 0.01 C V or 3 uA, from memory"
        }
        _ => "common practice",
    }
}

fn usual_ambient(e: &Evidence) -> crate::quantity::Temperature {
    e.family.requirement.ambient.usual
}

/// One note on all class-2 ceramics that work under bias without a curve.
fn bias(e: &Evidence, rule: RuleId) -> Option<Finding> {
    let usual = e.point(&e.usual())?;
    let mut names = Vec::new();
    let mut each = Vec::new();
    for part in &e.board.parts {
        let Device::Capacitor(c) = &part.device else {
            continue;
        };
        let (low, high) = match c.dielectric {
            Some(Dielectric::Class2X) => CLASS_2X_LEFT,
            Some(Dielectric::Class2Y) => CLASS_2Y_LEFT,
            _ => continue,
        };
        let volts = usual.part(&part.name).map_or(0.0, |p| p.volts.abs());
        let Some(rated) = c.rated.map(|v| v.as_volts()) else {
            continue;
        };
        if c.bias.is_none() && BIASED * rated < volts {
            let (low, high) = (low * c.value.si(), high * c.value.si());
            names.push(part.name.as_str());
            each.push(format!(
                "{} keeps {} to {} at {}",
                part.name,
                words::farads(low),
                words::farads(high),
                words::volts(volts)
            ));
        }
    }
    if names.is_empty() {
        return None;
    }
    Some(Finding {
        aspect: "bias",
        situation: Some(e.usual()),
        says: format!(
            "Class-2 ceramics lose capacitance under bias: {}.",
            words::join(&each)
        ),
        remedy: "give the maker's curve as bias = [[volts, share] ..], or take a larger case"
            .to_owned(),
        basis: "TI SLVA535B; ADI tutorial 5527".to_owned(),
        ..e.finding(rule, Severity::Note, &names)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Capacitance, Resistance, Spread};

    /// DR02 and DR20: NASA EEE-INST-002 table 4 and its note 3.
    #[test]
    fn ref_eee_inst_002_tantalum_derating() {
        let c = Capacitor {
            value: Spread::exactly(Capacitance::from_farads(10e-6)),
            dielectric: Some(Dielectric::Tantalum),
            rated: None,
            series_resistance: Spread::exactly(Resistance::from_ohms(0.0)),
            leakage: None,
            bias: None,
        };
        for (celsius, published) in [(25.0, 0.5), (70.0, 0.5), (90.0, 0.4), (110.0, 0.3)] {
            assert!((practice(&c, celsius)[0].0 - published).abs() < 1e-12);
        }
    }

    #[test]
    fn ratings_are_those_that_are_sold() {
        assert_eq!(next_rating(4.13), 6.3);
        assert_eq!(next_rating(6.3), 6.3);
    }
}
