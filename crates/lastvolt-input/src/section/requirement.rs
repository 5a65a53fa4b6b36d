//! `[requirement]`: what the boards must reach and where they live.

use lastvolt_core::model::{Ambient, MONTH_NAMES, Months, Requirement};
use lastvolt_core::quantity::{Quantity, Temperature, TemperatureDifference, Unit};

use crate::diagnostic::Problem;
use crate::document::{Bounds, Field, Fields, Value};

const LIFE: Field = Field::value("life", Unit::Second, "run time from fresh cells")
    .within(Bounds::POSITIVE)
    .example("\"18 months\"");
const CONFIDENCE: Field = Field::value(
    "confidence",
    Unit::Fraction,
    "share of the built units that must reach the life",
)
.within(Bounds::INNER_SHARE)
.example("\"95 %\"");
const STORAGE: Field = Field::value(
    "storage",
    Unit::Second,
    "time on the shelf before first use",
)
.within(Bounds::FROM_ZERO)
.example("\"6 months\"");
const NOTICE: Field = Field::value(
    "notice",
    Unit::Second,
    "time wanted between the low-battery warning and the end",
)
.within(Bounds::FROM_ZERO)
.example("\"14 days\"");
const LOW: Field = Field::value("low", Unit::Celsius, "the coldest")
    .otherwise("as `usual`")
    .example("\"-15 degC\"");
const USUAL: Field = Field::value("usual", Unit::Celsius, "the usual temperature")
    .otherwise("20 degC")
    .example("\"8 degC\"");
const HIGH: Field = Field::value("high", Unit::Celsius, "the hottest")
    .otherwise("as `usual`")
    .example("\"40 degC\"");
const MONTHLY: Field = Field::other(
    "monthly",
    "list of 12 temperatures",
    "mean temperature of each month, January first; `low`, `usual` and `high` then follow from it where they are absent",
)
.example("[\"1 degC\", \"2 degC\", \"5 degC\", \"9 degC\", \"13 degC\", \"17 degC\", \"19 degC\", \"19 degC\", \"15 degC\", \"10 degC\", \"5 degC\", \"2 degC\"]");
const MONTH: Field = Field::value("monthly", Unit::Celsius, "temperature").example("\"9 degC\"");
const START: Field = Field::word("start", &MONTH_NAMES, "month of first use, for `monthly`")
    .default("January")
    .example("\"October\"");
const DAY_NIGHT: Field = Field::value(
    "day_night",
    Unit::Kelvin,
    "how much warmer the day half of each day is than its night half, for `monthly`",
)
.within(Bounds::FROM_ZERO)
.default("0 K")
.example("\"8 K\"");
/// Nothing is colder (SI definition).
const ABSOLUTE_ZERO_CELSIUS: f64 = -273.15;
const AMBIENT: Field = Field::table(
    "ambient",
    &[LOW, USUAL, HIGH, MONTHLY, START, DAY_NIGHT],
    "temperatures around the boards",
)
.otherwise("20 degC")
.example("{ low = \"-15 degC\", usual = \"8 degC\", high = \"40 degC\" }");

/// The fields of the table.
pub(crate) const FIELDS: &[Field] = &[
    LIFE, CONFIDENCE, STORAGE, NOTICE, AMBIENT, MONTHLY, START, DAY_NIGHT,
];

/// Reads the table; what is wrong or absent is left at its default.
pub(crate) fn read(f: &Fields<'_>) -> Requirement {
    let table = f.table(&AMBIENT);
    Requirement {
        life: f.value(&LIFE),
        confidence: f.value(&CONFIDENCE),
        storage: f.value(&STORAGE),
        notice: f.value(&NOTICE),
        ambient: ambient(f, table.as_ref()),
    }
}

/// What holds where nothing is said.
pub(crate) fn absent() -> Requirement {
    Requirement {
        life: None,
        confidence: None,
        storage: None,
        notice: None,
        ambient: between(None, None, None, None),
    }
}

fn ambient(f: &Fields<'_>, table: Option<&Fields<'_>>) -> Ambient {
    let monthly = months(f).or_else(|| table.and_then(months));
    let Some(t) = table else {
        return between(None, None, None, monthly);
    };
    let (low, usual, high) = (t.value(&LOW), t.value(&USUAL), t.value(&HIGH));
    let ambient = between(low, usual, high, monthly);
    let pairs = [
        (LOW, ambient.low, USUAL, ambient.usual),
        (USUAL, ambient.usual, HIGH, ambient.high),
    ];
    for (cold, cold_at, warm, warm_at) in pairs {
        if warm_at < cold_at {
            let says = format!("`{}` of `ambient` lies above its `{}`", cold.key, warm.key);
            let at = t
                .get(cold.key)
                .or_else(|| t.get(warm.key))
                .map_or(&t.home, |v| &v.spot);
            f.reader
                .report(Problem::new("min-above-max", at.clone(), says).label("out of order"));
        }
    }
    ambient
}

fn between(
    low: Option<Temperature>,
    usual: Option<Temperature>,
    high: Option<Temperature>,
    monthly: Option<Months>,
) -> Ambient {
    let edge = |f: fn(f64, f64) -> f64, sign: f64| {
        let months = monthly.as_ref();
        months.map(|m| {
            let half = sign * m.day_night.as_kelvin() / 2.0;
            Temperature::from_celsius(m.celsius.into_iter().fold(m.celsius[0], f) + half)
        })
    };
    let mean = monthly.as_ref();
    let mean = mean.map(|m| Temperature::from_celsius(m.celsius.iter().sum::<f64>() / 12.0));
    let usual = usual.or(mean).unwrap_or(Temperature::from_celsius(20.0));
    Ambient {
        low: low.or(edge(f64::min, -1.0)).unwrap_or(usual),
        usual,
        high: high.or(edge(f64::max, 1.0)).unwrap_or(usual),
        monthly,
    }
}

fn months(f: &Fields<'_>) -> Option<Months> {
    let Some(value) = f.get(MONTHLY.key) else {
        for (field, label) in [
            (START, "start of what"),
            (DAY_NIGHT, "days of which months"),
        ] {
            if let Some(value) = f.get(field.key) {
                let says = format!("`{}` has no `monthly` beside it", field.key);
                f.reader
                    .report(Problem::new("missing-key", value.spot.clone(), says).label(label));
            }
        }
        return None;
    };
    let celsius = twelve(f, value)?;
    let word = f.word(&START)?;
    let start = MONTH_NAMES.iter().position(|m| *m == word)?;
    let day_night: TemperatureDifference = f.value_or(&DAY_NIGHT);
    let coldest = celsius.into_iter().fold(celsius[0], f64::min) - day_night.si() / 2.0;
    if coldest < ABSOLUTE_ZERO_CELSIUS {
        let at = f.get(DAY_NIGHT.key).map_or(&value.spot, |v| &v.spot);
        let says = "nights lie below absolute zero, -273.15 degC";
        f.reader
            .report(Problem::new("out-of-range", at.clone(), says).label("too far apart"));
        return None;
    }
    Some(Months {
        celsius,
        start,
        day_night,
    })
}

fn twelve(f: &Fields<'_>, value: &Value) -> Option<[f64; 12]> {
    let items = f
        .reader
        .list(value, MONTHLY.key, "a list of 12 temperatures")?;
    if items.len() != 12 {
        let says = format!("`monthly` has {} temperatures, 12 are needed", items.len());
        f.reader
            .report(Problem::new("wrong-length", value.spot.clone(), says).label("one a month"));
        return None;
    }
    let mut celsius = [0.0; 12];
    for (item, month) in items.iter().zip(&mut celsius) {
        let read: Temperature = f.reader.quantity(item, &MONTH)?;
        *month = read.as_celsius();
    }
    Some(celsius)
}
