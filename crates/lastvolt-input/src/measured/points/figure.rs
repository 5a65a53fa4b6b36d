//! What the figure of a row is, and whether its row says all that it needs.

use lastvolt_core::fit::{Amount, At, Duty, Reading, Step, Value};
use lastvolt_core::quantity::{Charge, Resistance, Time, Unit, Voltage};

use super::super::Role;
use super::super::duty::{self, Where};
use super::super::problem::{Complaint, Slip};
use super::super::sigma::{Grade, grade};
use super::{KNOWN, Row, Said, within};
use crate::quantity::unit_of;
use crate::suggest::{listed, nearest, quoted};

impl Row<'_> {
    /// What the row says.
    pub(super) fn said(&mut self, role: Role) -> Option<Said> {
        let grade = grade(self.get("read"), self.get("confidence"));
        let fitted = role == Role::Fit;
        let reading = |(value, sigma)| Reading {
            value,
            sigma,
            fitted,
        };
        let quantity = self.get("quantity").to_owned();
        match quantity.as_str() {
            "" => {
                let slip =
                    Slip::new("empty-field", 0..0, "the field is empty").label("nothing here");
                self.report(
                    "quantity",
                    slip.proposal(format!("known: {}", listed(KNOWN))),
                );
                None
            }
            "service" | "minimum" => {
                let (duty, service) = self.service(grade);
                let (duty, service) = (duty?, service?);
                if quantity == "service" {
                    return Some(Said::Loaded(duty, reading(service)));
                }
                let mut reading = reading(service);
                reading.fitted = false;
                Some(Said::Minimum(duty, reading))
            }
            "volts" => {
                let (duty, volts) = (self.duty("volts"), self.loaded_volts(grade));
                Some(Said::Loaded(duty?, reading(volts?)))
            }
            "rest" | "pulse" | "resistance" => {
                let value = self.rested(&quantity, grade);
                Some(Said::Rested(reading(value?)))
            }
            other => {
                let near = nearest(other, KNOWN).filter(|known| !other.contains(known));
                if let Some(near) = near {
                    let says = format!("unknown quantity {}", quoted(other));
                    let mut slip = Slip::new("unknown-quantity", 0..other.len(), says);
                    slip = slip.label("not known").write(near);
                    slip.proposal = Some(format!("did you mean `{near}`?"));
                    self.report("quantity", slip);
                    return None;
                }
                Some(Said::Fact)
            }
        }
    }

    /// The load with its regime.
    fn duty(&mut self, why: &'static str) -> Option<Duty> {
        if self.get("load").is_empty() {
            self.missing("load", &format!("`{why}`"));
            self.parsed("regime", duty::regime);
            return None;
        }
        let steps = self.parsed("load", duty::load);
        let windows = self.parsed("regime", duty::regime);
        let (steps, windows) = (steps?, windows?);
        if let [only] = steps[..]
            && only.span.is_some()
        {
            let says = "a single step with a time starts again at once, without a pause";
            let slip = Slip::new("lone-step", 0..self.get("load").len(), says)
                .label("what follows?")
                .proposal(
                    "take the time away, add `then rest for TIME`, or write the time into `regime`",
                );
            self.report("load", slip);
            return None;
        }
        Some(Duty { steps, windows })
    }

    fn end(&mut self) -> Option<f64> {
        self.parsed("end", |text| within(text, Unit::Volt, (1e-3, 5.0)))
    }

    fn service(&mut self, grade: Grade) -> (Option<Duty>, Option<(Value, f64)>) {
        let duty = self.duty("service");
        let end = if self.get("end").is_empty() {
            self.missing("end", "a service");
            None
        } else {
            self.end()
        };
        let repeats = duty
            .as_ref()
            .is_none_or(|d| d.steps.len() + d.windows.len() > 1);
        let amount = self.amount(repeats);
        let value = end.zip(amount).map(|(end, amount)| Value::Service {
            end: Voltage::from_volts(end),
            amount,
        });
        (duty, value.map(|value| (value, grade.service())))
    }

    fn amount(&mut self, repeats: bool) -> Option<Amount> {
        let (text, _) = self.value_text()?;
        let word = text
            .trim_start_matches(|c: char| !c.is_alphabetic() || c == 'e')
            .trim();
        if matches!(word, "pulses" | "cycles") {
            let number = text.strip_suffix(word).unwrap_or("").trim().parse::<f64>();
            let count = number.ok().filter(|n| n.is_finite() && *n > 0.0);
            let slip = match count {
                None => Slip::new(
                    "not-a-number",
                    0..text.len(),
                    "a count above zero is needed",
                ),
                Some(_) if !repeats => {
                    let says = format!(
                        "{word} are counted, but neither `regime` nor steps of the load repeat"
                    );
                    Slip::new("nothing-repeats", 0..text.len(), says)
                        .label("of what?")
                        .proposal("write the rhythm into `regime`: `15 s each 1 min`")
                }
                Some(n) => return Some(Amount::Count(n)),
            };
            self.report_value(slip);
            return None;
        }
        let above = (f64::MIN_POSITIVE, f64::INFINITY);
        match unit_of(&text).map(|found| found.1) {
            Some(Unit::Second) => {
                let secs = self.value(Unit::Second, above)?;
                Some(Amount::Time(Time::from_secs(secs)))
            }
            Some(Unit::Coulomb) => {
                let charge = self.value(Unit::Coulomb, above)?;
                Some(Amount::Charge(Charge::from_coulombs(charge)))
            }
            other => {
                let slip = no_service(&text, other);
                self.report_value(slip);
                None
            }
        }
    }

    fn loaded_volts(&mut self, grade: Grade) -> Option<(Value, f64)> {
        let volts = self.value(Unit::Volt, (0.0, 5.0));
        let at = self
            .place("volts")
            .and_then(|place| self.loaded_place(place));
        let value = Value::Volts {
            at: at?,
            volts: Voltage::from_volts(volts?),
        };
        Some((value, grade.volts()))
    }

    fn place(&mut self, why: &str) -> Option<Where> {
        if self.get("at").is_empty() {
            self.missing("at", &format!("`{why}`"));
            return None;
        }
        self.parsed("at", duty::place)
    }

    fn loaded_place(&mut self, place: Where) -> Option<At> {
        Some(match place {
            Where::Time(time) => At::Time(time),
            Where::Charge(charge) => At::Charge(charge),
            Where::Depth(depth) => At::Depth(depth),
            Where::Share(_) if self.get("end").is_empty() => {
                self.missing("end", "a share of the service");
                return None;
            }
            Where::Share(share) => At::Share {
                share,
                end: Voltage::from_volts(self.end()?),
            },
        })
    }

    /// A figure of a rested cell: a share is of all charge, for nothing is on load.
    fn rested(&mut self, quantity: &str, grade: Grade) -> Option<(Value, f64)> {
        let at = self
            .place(quantity)
            .and_then(|place| self.rested_place(place));
        self.unused("regime", quantity);
        self.unused("end", quantity);
        if quantity == "rest" {
            self.unused("load", quantity);
            let volts = self.value(Unit::Volt, (0.0, 5.0));
            let volts = Voltage::from_volts(volts?);
            return Some((Value::Rest { at: at?, volts }, grade.volts()));
        }
        let pulse = self.pulse(quantity);
        if quantity == "pulse" {
            let volts = self.value(Unit::Volt, (0.0, 5.0));
            let value = Value::Pulse {
                at: at?,
                pulse: pulse?,
                volts: Voltage::from_volts(volts?),
            };
            return Some((value, grade.pulse_volts()));
        }
        let ohms = self.value(Unit::Ohm, (f64::MIN_POSITIVE, 1e6));
        let value = Value::Resistance {
            at: at?,
            pulse: pulse?,
            resistance: Resistance::from_ohms(ohms?),
        };
        Some((value, grade.resistance()))
    }

    /// A pulse with its length; that of a resistance may be absent, which is its first moment.
    fn pulse(&mut self, quantity: &str) -> Option<Step> {
        if self.get("load").is_empty() {
            self.missing("load", &format!("`{quantity}`"));
            return None;
        }
        let mut pulse = self.parsed("load", duty::pulse)?;
        if pulse.span.is_none() && quantity == "pulse" {
            let text = self.get("load").to_owned();
            let slip = Slip::new("no-span", 0..text.len(), "a pulse needs its length")
                .label("how long?")
                .proposal(format!("write for instance `{text} for 15 s`"));
            self.report("load", slip);
            return None;
        }
        let span = *pulse.span.get_or_insert(Time::from_secs(0.0));
        if quantity == "pulse" && span.as_secs() == 0.0 {
            let slip = Slip::new("no-span", 0..self.get("load").len(), "a pulse must last");
            self.report("load", slip.label("0 s"));
            return None;
        }
        Some(pulse)
    }

    fn rested_place(&mut self, place: Where) -> Option<At> {
        match place {
            Where::Charge(charge) => Some(At::Charge(charge)),
            Where::Share(depth) | Where::Depth(depth) => Some(At::Depth(depth)),
            Where::Time(_) => {
                let says = "a rested cell has no time on load";
                let slip = Slip::new("not-a-place", 0..self.get("at").len(), says)
                    .label("a time")
                    .proposal("write the charge that was given (`80 mAh`) or a share of all charge (`50 %`)");
                self.report("at", slip);
                None
            }
        }
    }

    /// Says that a filled field is not looked at.
    fn unused(&mut self, name: &str, quantity: &str) {
        if self.get(name).is_empty() {
            return;
        }
        let mut says = format!("`{name}` is not looked at for `{quantity}`");
        if name == "end" {
            says.push_str(", a share of a rested cell is of all its charge");
        }
        let slip = Slip::new("field-not-read", self.span(name), says).label("not read");
        self.complaints
            .add(Complaint::notice(self.table.file, slip));
    }
}

/// Why a figure is no service, with a unit spelt right where one is meant.
fn no_service(text: &str, unit: Option<Unit>) -> Slip {
    if unit.is_none() {
        for unit in [Unit::Coulomb, Unit::Second] {
            if let Err(error) = duty::exact(text, unit)
                && error.code == "unit-spelling"
            {
                return error;
            }
        }
    }
    let says = format!(
        "{} is no service, which is a time, a charge, or a number of pulses or cycles",
        quoted(text)
    );
    Slip::new("not-a-service", 0..text.len(), says)
        .label("in which unit?")
        .proposal("write one of `h`, `min`, `mAh`, `pulses`, `cycles` into the column `unit`")
}
