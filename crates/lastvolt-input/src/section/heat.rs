//! Temperatures that a part bears: keys of every kind of part and of every model.

use lastvolt_core::device::Dielectric;
use lastvolt_core::model::{Device, Heat};
use lastvolt_core::quantity::{Temperature, Unit};

use super::capacitor::DIELECTRIC;
use crate::diagnostic::Problem;
use crate::document::{Bounds, Data, Field, Fields};

const THERMAL: Field = Field::value(
    "thermal",
    Unit::KelvinPerWatt,
    "how much warmer than the ambient its hottest place gets for each watt that it turns into heat",
)
.within(Bounds::POSITIVE)
.example("\"220 K/W\"");
const HOTTEST: Field = Field::value(
    "hottest",
    Unit::Celsius,
    "how hot its junction or body may get",
)
.example("\"125 degC\"");
const OPERATING: Field = Field::other(
    "operating",
    "[lowest, highest] or { low, high }",
    "ambients between which its maker lets it be used; a ceramic capacitor without it has those of the code of its dielectric",
)
.example("[\"-40 degC\", \"85 degC\"]");
const LOWEST: Field =
    Field::value("low", Unit::Celsius, "lowest temperature of use").example("\"-20 degC\"");
const HIGHEST: Field =
    Field::value("high", Unit::Celsius, "highest temperature of use").example("\"60 degC\"");
const ENDS: &[Field] = &[LOWEST, HIGHEST];

/// The fields of every part and model.
pub(crate) const HEAT_FIELDS: &[Field] = &[THERMAL, HOTTEST, OPERATING];

/// Reads what a part bears.
pub(super) fn heat(f: &Fields<'_>, device: Option<&Device>) -> Heat {
    let (lowest, highest) = operating(f);
    let mut heat = Heat {
        thermal: f.value(&THERMAL),
        hottest: f.value(&HOTTEST),
        lowest,
        highest,
        by_code: false,
    };
    if let Some(Device::Capacitor(c)) = device
        && f.get(OPERATING.key).is_none()
        && let Some(Dielectric::Class2X | Dielectric::Class2Y) = c.dielectric
        && let Some((low, high)) = f.word(&DIELECTRIC).and_then(coded)
    {
        heat.lowest = Some(Temperature::from_celsius(low));
        heat.highest = Some(Temperature::from_celsius(high));
        heat.by_code = true;
    }
    heat
}

/// The ambients that a code of a class-2 dielectric names: its letter the lower, its digit the upper
/// (EIA-198).
fn coded(code: &str) -> Option<(f64, f64)> {
    let mut signs = code.chars();
    let low = match signs.next()? {
        'X' => -55.0,
        'Y' => -30.0,
        'Z' => 10.0,
        _ => return None,
    };
    let high = match signs.next()? {
        '4' => 65.0,
        '5' => 85.0,
        '6' => 105.0,
        '7' => 125.0,
        '8' => 150.0,
        _ => return None,
    };
    Some((low, high))
}

/// Lowest and highest ambient, as far as they are stated.
pub(super) fn operating(f: &Fields<'_>) -> (Option<Temperature>, Option<Temperature>) {
    let Some(value) = f.get(OPERATING.key) else {
        return (None, None);
    };
    let (low, high) = match &value.data {
        Data::Table(table) => {
            let what = format!("`{}` of {}", OPERATING.key, f.what);
            let ends = Fields::of(f.reader, table, ENDS, &value.spot, &what);
            (ends.value(&LOWEST), ends.value(&HIGHEST))
        }
        _ => {
            let needed = "a list of two temperatures, or { low, high }";
            let items = f.reader.list(value, OPERATING.key, needed);
            let [low, high] = items.unwrap_or(&[]) else {
                if items.is_some() {
                    f.reader.wrong_type(value, OPERATING.key, needed);
                }
                return (None, None);
            };
            (
                f.reader.quantity(low, &LOWEST),
                f.reader.quantity(high, &HIGHEST),
            )
        }
    };
    if let (Some(from), Some(to)) = (low, high)
        && to <= from
    {
        let says = format!(
            "the lowest temperature of `{}` must lie below its highest",
            OPERATING.key
        );
        f.reader
            .report(Problem::new("min-above-max", value.spot.clone(), says).label("out of order"));
        return (None, None);
    }
    (low, high)
}

#[cfg(test)]
mod tests {
    use super::coded;

    /// EIA-198: first sign X is -55 degC, Y -30 degC, Z 10 degC; second sign 5 is 85 degC, 6 is
    /// 105 degC, 7 is 125 degC.
    #[test]
    fn ref_eia_198_codes_of_dielectrics() {
        assert_eq!(coded("X5R"), Some((-55.0, 85.0)));
        assert_eq!(coded("X6S"), Some((-55.0, 105.0)));
        assert_eq!(coded("X7R"), Some((-55.0, 125.0)));
        assert_eq!(coded("Y5V"), Some((-30.0, 85.0)));
        assert_eq!(coded("Z5U"), Some((10.0, 85.0)));
        assert_eq!(coded("C0G"), None);
    }
}
