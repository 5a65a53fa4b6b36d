//! `output-error`: does a regulator's output, with its reference, divider and bias current at their
//! limits, keep to the loads' working ranges and to what the connector promises?
//!
//! # Formula
//! ```text
//! V_out = V_ref (1 + R1/R2) + I_bias R1
//! ```
//! R1 from the output to the feedback pin, R2 from there to ground; the limits are exact corners.
//! A tolerance that goes beyond what a load survives is left to `over-voltage`.
//!
//! # References
//! TI SLVA450B eq. 4 (bias term) and its worked example on tolerances.

use crate::device::{Regulator, Setpoint};
use crate::model::{Device, Part};
use crate::numerics::eseries::Series;
use crate::quantity::{Quantity, Spread, Unit};
use crate::review::anatomy::{Divider, dividers, joined};
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Share of a voltage that is rounding of preferred values and not an error.
const ROUNDING: f64 = 1e-6;

pub(super) struct OutputError;

impl Rule for OutputError {
    fn id(&self) -> RuleId {
        "output-error"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let parts = e.board.parts.iter();
        let found = parts.filter_map(|part| {
            let output = Output::of(e, part)?;
            let worst = output.worst_need(e)?;
            Some(output.finding(e, self.id(), &worst))
        });
        found.collect()
    }
}

/// Lowest, nominal and highest output of a regulator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Band {
    pub(super) low: f64,
    pub(super) nominal: f64,
    pub(super) high: f64,
}

/// A regulator with what it puts out.
pub(super) struct Output<'a> {
    pub(super) part: &'a Part,
    pub(super) divider: Option<Divider<'a>>,
    pub(super) band: Band,
}

/// One range that an output is held against.
#[derive(Debug, Clone, PartialEq)]
struct Need {
    /// Whose range, as the subject of a sentence.
    whose: String,
    from: f64,
    to: f64,
    survives: f64,
    of_load: bool,
}

impl<'a> Output<'a> {
    /// The output of a part, where it is a regulator whose setting is known.
    pub(super) fn of(e: &Evidence<'a>, part: &'a Part) -> Option<Self> {
        let Device::Regulator(device) = &part.device else {
            return None;
        };
        let divider = dividers(e.board)
            .into_iter()
            .find(|d| d.regulator.name == part.name);
        let band = band(device, divider.as_ref())?;
        Some(Self {
            part,
            divider,
            band,
        })
    }

    /// The parts that set it, those that can be changed first.
    pub(super) fn set_by(&self) -> Vec<&'a str> {
        let divider = self.divider.iter();
        let divider = divider.flat_map(|d| [d.upper.name.as_str(), d.lower.name.as_str()]);
        divider.chain([self.part.name.as_str()]).collect()
    }

    /// Whether the nominal output alone keeps a load from working or is above what it works to.
    pub(super) fn is_set_wrong(&self, e: &Evidence) -> bool {
        let wrong = |n: &Need| self.band.nominal < n.from || n.to < self.band.nominal;
        self.needs(e).iter().any(|n| n.of_load && wrong(n))
    }

    /// Ranges of the loads on the output and the promise of its connector pin.
    fn needs(&self, e: &Evidence) -> Vec<Need> {
        let usual = e.usual();
        let root = joined(e.board, &usual.positions);
        let Some(out) = self.part.net("out").map(|net| root[net]) else {
            return Vec::new();
        };
        let on_output = |name: &str| {
            let net = e.board.nets.iter().position(|n| n == name);
            net.is_some_and(|net| root[net] == out)
        };
        let mut needs = Vec::new();
        for load in e.family.loads_of(e.board) {
            let used = e.joint_states();
            for states in used {
                let state = states.get(&load.name).and_then(|s| load.state(s));
                let range = load.working_in(state.unwrap_or(0));
                if let (true, Some(range)) = (on_output(&load.plus), range) {
                    needs.push(Need {
                        whose: format!("{} works", load.name),
                        from: range.from.as_volts(),
                        to: range.to.as_volts(),
                        survives: load.survives.map_or(f64::INFINITY, |v| v.as_volts()),
                        of_load: true,
                    });
                }
            }
        }
        for promise in &e.family.connector.promises {
            if let (true, Some((from, to))) = (on_output(&promise.pin), promise.band) {
                needs.push(Need {
                    whose: format!("pin {} of the connector is promised", promise.pin),
                    from: from.as_volts(),
                    to: to.as_volts(),
                    survives: f64::INFINITY,
                    of_load: false,
                });
            }
        }
        needs
    }

    /// The range whose leaving weighs most, the furthest left among equals.
    fn worst_need(&self, e: &Evidence) -> Option<Need> {
        let excess = |n: &Need| (n.from - self.band.low).max(self.band.high - n.to);
        let needs = self.needs(e).into_iter().filter(|n| {
            // Only a tolerance reaches what the load does not survive: `over-voltage` says so.
            let left_to_other = n.of_load
                && self.band.nominal <= n.to
                && n.survives < self.band.high
                && n.from <= self.band.low;
            !left_to_other && ROUNDING * n.to < excess(n)
        });
        needs.max_by(|a, b| {
            let by_weight = self.severity(a).cmp(&self.severity(b));
            by_weight.then(excess(a).total_cmp(&excess(b)))
        })
    }

    fn severity(&self, need: &Need) -> Severity {
        let never_works = need.of_load && self.band.nominal < need.from;
        if never_works || need.survives < self.band.nominal {
            Severity::Stop
        } else {
            Severity::Fix
        }
    }

    fn finding(&self, e: &Evidence, rule: RuleId, need: &Need) -> Finding {
        let band = self.band;
        let above = need.from - band.low < band.high - need.to;
        let (measured, limit) = if above {
            (band.high, need.to)
        } else {
            (band.low, need.from)
        };
        let nominal_fits = need.from <= band.nominal && band.nominal <= need.to;
        Finding {
            nets: self
                .part
                .net("out")
                .map(|n| e.net_name(n))
                .into_iter()
                .collect(),
            situation: Some(e.usual()),
            measured: Some(Figure::new(measured, Unit::Volt)),
            limit: Some(Figure::new(limit, Unit::Volt)),
            says: format!(
                "The output of {} is {} nominal and {} to {} with reference, divider and bias current at \
                 their limits; {} from {} to {}.",
                self.part.name,
                words::volts(band.nominal),
                words::volts(band.low),
                words::volts(band.high),
                need.whose,
                words::volts(need.from),
                words::volts(need.to)
            ),
            remedy: self.remedy(need, nominal_fits),
            basis: "TI SLVA450B eq. 4; IEC 60063".to_owned(),
            ..e.finding(rule, self.severity(need), &self.set_by())
        }
    }

    /// The upper resistor that centres the output in the need, or a narrower tolerance.
    fn remedy(&self, need: &Need, nominal_fits: bool) -> String {
        let (low, high) = (
            self.band.low / self.band.nominal,
            self.band.high / self.band.nominal,
        );
        // The nominal value that keeps both limits inside, nearest to what is built now.
        let (least, most) = (need.from / low, need.to / high);
        let fits = least <= most;
        let aim = self.band.nominal.clamp(least.min(most), most.max(least));
        match (&self.divider, fits) {
            (Some(d), true) => {
                let Device::Resistor(lower) = &d.lower.device else {
                    return String::new();
                };
                let aim = if need.of_load {
                    aim
                } else {
                    f64::midpoint(least, most)
                };
                let reference = setting(d.device);
                let bias = d.device.bias.si();
                let upper = (aim - reference) / (reference / lower.value.si() + bias);
                let upper = Series::E96.nearest(upper);
                format!(
                    "make {} {} (E96), which gives {}",
                    d.upper.name,
                    words::ohms(upper),
                    words::volts(reference * (1.0 + upper / lower.value.si()) + bias * upper)
                )
            }
            (Some(d), false) if nominal_fits => format!(
                "take {} and {} with a narrower tolerance, or a part with a better reference than {}",
                d.upper.name, d.lower.name, self.part.name
            ),
            _ => format!(
                "take a version of {} set to {}",
                self.part.name,
                words::volts(aim)
            ),
        }
    }
}

fn setting(u: &Regulator) -> f64 {
    match &u.setpoint {
        Setpoint::Output(v) | Setpoint::Reference(v) => v.si(),
    }
}

/// The exact corners of an output.
fn band(u: &Regulator, divider: Option<&Divider>) -> Option<Band> {
    match (&u.setpoint, divider) {
        (Setpoint::Output(v), _) => Some(Band {
            low: v.low(),
            nominal: v.si(),
            high: v.high(),
        }),
        (Setpoint::Reference(v), Some(d)) => {
            let (Device::Resistor(upper), Device::Resistor(lower)) =
                (&d.upper.device, &d.lower.device)
            else {
                return None;
            };
            Some(divided(v, &u.bias, &upper.value, &lower.value))
        }
        (Setpoint::Reference(_), None) => None,
    }
}

fn divided<V: Quantity, A: Quantity, R: Quantity>(
    reference: &Spread<V>,
    bias: &Spread<A>,
    upper: &Spread<R>,
    lower: &Spread<R>,
) -> Band {
    let out = |v: f64, i: f64, r1: f64, r2: f64| v * (1.0 + r1 / r2) + i * r1;
    Band {
        low: out(reference.low(), bias.low(), upper.low(), lower.high()),
        nominal: out(reference.si(), bias.si(), upper.si(), lower.si()),
        high: out(reference.high(), bias.high(), upper.high(), lower.low()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Current, Resistance, Voltage};

    fn of(typ: f64, share: f64) -> Spread<Resistance> {
        Spread {
            min: Some(Resistance::from_ohms(typ * (1.0 - share))),
            typ: Resistance::from_ohms(typ),
            max: Some(Resistance::from_ohms(typ * (1.0 + share))),
        }
    }

    fn volts(typ: f64, share: f64) -> Spread<Voltage> {
        Spread {
            min: Some(Voltage::from_volts(typ * (1.0 - share))),
            typ: Voltage::from_volts(typ),
            max: Some(Voltage::from_volts(typ * (1.0 + share))),
        }
    }

    /// DV25, DV26: 1 Mohm over 180 kohm, 1 %, at a reference of 0.5 V, 2 % (derived from TI SLVA450B).
    #[test]
    fn ref_slva450b_divider_corners() {
        let none = Spread::exactly(Current::from_amps(0.0));
        let band = divided(&volts(0.5, 0.02), &none, &of(1e6, 0.01), &of(180e3, 0.01));
        assert!((band.low - 3.158).abs() < 5e-4, "{band:?}");
        assert!((band.nominal - 3.278).abs() < 5e-4, "{band:?}");
        assert!((band.high - 3.401).abs() < 5e-4, "{band:?}");
    }

    /// BB14: TI SLVA535B, 511 kohm over 91 kohm at 0.5 V and 10 nA.
    #[test]
    fn ref_slva535b_divider_output() {
        let bias = Spread::exactly(Current::from_amps(0.0));
        let band = divided(&volts(0.5, 0.0), &bias, &of(511e3, 0.0), &of(91e3, 0.0));
        assert!((band.nominal - 3.308).abs() < 5e-4, "{band:?}");
        let bias = Spread::exactly(Current::from_amps(10e-9));
        let with = divided(&volts(0.5, 0.0), &bias, &of(511e3, 0.0), &of(91e3, 0.0));
        assert!((with.nominal - band.nominal - 5.11e-3).abs() < 1e-9);
    }
}
