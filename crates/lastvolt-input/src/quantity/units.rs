//! Unit symbols that files may use, their prefixes, and which of them suit a quantity.

use lastvolt_core::quantity::{DAY_SECS, MONTH_SECS, Unit, YEAR_SECS};

/// A unit symbol without prefix.
struct Symbol {
    text: &'static str,
    unit: Unit,
    /// What one of it is in SI, beyond powers of ten given by a prefix.
    factor: f64,
    /// Whether decimal prefixes may stand before it.
    prefixed: Prefixed,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Prefixed {
    Yes,
    No,
}

const fn symbol(text: &'static str, unit: Unit, factor: f64, prefixed: Prefixed) -> Symbol {
    Symbol {
        text,
        unit,
        factor,
        prefixed,
    }
}

const SYMBOLS: [Symbol; 35] = [
    symbol("V", Unit::Volt, 1.0, Prefixed::Yes),
    symbol("A", Unit::Ampere, 1.0, Prefixed::Yes),
    symbol("ohm", Unit::Ohm, 1.0, Prefixed::Yes),
    symbol("Ohm", Unit::Ohm, 1.0, Prefixed::Yes),
    symbol("\u{3a9}", Unit::Ohm, 1.0, Prefixed::Yes),
    symbol("\u{2126}", Unit::Ohm, 1.0, Prefixed::Yes),
    symbol("F", Unit::Farad, 1.0, Prefixed::Yes),
    symbol("H", Unit::Henry, 1.0, Prefixed::Yes),
    symbol("Hz", Unit::Hertz, 1.0, Prefixed::Yes),
    symbol("W", Unit::Watt, 1.0, Prefixed::Yes),
    symbol("J", Unit::Joule, 1.0, Prefixed::Yes),
    symbol("Wh", Unit::Joule, 3600.0, Prefixed::Yes),
    symbol("C", Unit::Coulomb, 1.0, Prefixed::Yes),
    symbol("As", Unit::Coulomb, 1.0, Prefixed::Yes),
    symbol("Ah", Unit::Coulomb, 3600.0, Prefixed::Yes),
    symbol("s", Unit::Second, 1.0, Prefixed::Yes),
    symbol("min", Unit::Second, 60.0, Prefixed::No),
    symbol("h", Unit::Second, 3600.0, Prefixed::No),
    symbol("day", Unit::Second, DAY_SECS, Prefixed::No),
    symbol("days", Unit::Second, DAY_SECS, Prefixed::No),
    symbol("week", Unit::Second, 7.0 * DAY_SECS, Prefixed::No),
    symbol("weeks", Unit::Second, 7.0 * DAY_SECS, Prefixed::No),
    symbol("month", Unit::Second, MONTH_SECS, Prefixed::No),
    symbol("months", Unit::Second, MONTH_SECS, Prefixed::No),
    symbol("year", Unit::Second, YEAR_SECS, Prefixed::No),
    symbol("years", Unit::Second, YEAR_SECS, Prefixed::No),
    symbol("degC", Unit::Celsius, 1.0, Prefixed::No),
    symbol("\u{b0}C", Unit::Celsius, 1.0, Prefixed::No),
    symbol("K", Unit::Kelvin, 1.0, Prefixed::No),
    symbol("K/W", Unit::KelvinPerWatt, 1.0, Prefixed::No),
    symbol("%", Unit::Fraction, 0.01, Prefixed::No),
    symbol("ppm", Unit::Fraction, 1e-6, Prefixed::No),
    symbol("/s", Unit::PerSecond, 1.0, Prefixed::No),
    symbol("g", Unit::Kilogram, 1e-3, Prefixed::Yes),
    symbol("m", Unit::Metre, 1.0, Prefixed::Yes),
];

/// Other ways in which people write a symbol, and the one that files use.
const ALIASES: [(&str, &str); 24] = [
    ("sec", "s"),
    ("secs", "s"),
    ("second", "s"),
    ("seconds", "s"),
    ("msec", "ms"),
    ("usec", "us"),
    ("mins", "min"),
    ("minute", "min"),
    ("minutes", "min"),
    ("hr", "h"),
    ("hrs", "h"),
    ("hour", "h"),
    ("hours", "h"),
    ("d", "days"),
    ("y", "years"),
    ("yr", "years"),
    ("a", "years"),
    ("volt", "V"),
    ("volts", "V"),
    ("amps", "A"),
    ("ohms", "ohm"),
    ("percent", "%"),
    ("degc/w", "K/W"),
    ("\u{b0}c/w", "K/W"),
];

/// Power of ten of a decimal prefix.
pub(super) fn prefix_power(prefix: char) -> Option<i32> {
    Some(match prefix {
        'f' => -15,
        'p' => -12,
        'n' => -9,
        'u' | '\u{b5}' | '\u{3bc}' => -6,
        'm' => -3,
        'k' => 3,
        'M' => 6,
        'G' => 9,
        'T' => 12,
        _ => return None,
    })
}

/// What a unit word stands for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Meaning {
    /// What it measures.
    pub(super) unit: Unit,
    /// Power of ten of its prefix.
    pub(super) power: i32,
    /// Further factor to SI.
    pub(super) factor: f64,
    /// The prefix, where there is one.
    pub(super) prefix: Option<char>,
}

/// Reads a unit word with or without prefix.
pub(super) fn meaning(word: &str) -> Option<Meaning> {
    if let Some(symbol) = SYMBOLS.iter().find(|s| s.text == word) {
        // A percentage is a power of ten, which keeps decimal values exact.
        let (power, factor) = match symbol.text {
            "%" => (-2, 1.0),
            "ppm" => (-6, 1.0),
            _ => (0, symbol.factor),
        };
        return Some(Meaning {
            unit: symbol.unit,
            power,
            factor,
            prefix: None,
        });
    }
    let prefix = word.chars().next()?;
    let rest = &word[prefix.len_utf8()..];
    let symbol = SYMBOLS
        .iter()
        .find(|s| s.text == rest && s.prefixed == Prefixed::Yes)?;
    let kilo_ohm = prefix == 'K' && symbol.unit == Unit::Ohm;
    let power = prefix_power(if kilo_ohm { 'k' } else { prefix })?;
    Some(Meaning {
        unit: symbol.unit,
        power,
        factor: symbol.factor,
        prefix: Some(prefix),
    })
}

/// The spelling of a unit word that files use, where the word is a known slip.
pub(super) fn corrected(word: &str, unit: Unit) -> Option<String> {
    let lower = word.to_lowercase();
    if let Some(alias) = ALIASES.iter().find(|a| a.0 == lower)
        && meaning(alias.1).is_some_and(|m| m.unit == unit)
    {
        return Some(alias.1.to_owned());
    }
    if unit == Unit::Celsius
        && ["c", "deg c", "deg", "celsius", "degc", "\u{b0}c"].contains(&&*lower)
    {
        return Some("degC".to_owned());
    }
    let mut found = None;
    for symbol in SYMBOLS.iter().filter(|s| s.unit == unit) {
        let prefixes = ["", "f", "p", "n", "u", "m", "k", "M", "G", "T"];
        for prefix in prefixes {
            let candidate = format!("{prefix}{}", symbol.text);
            if candidate.to_lowercase() == lower && meaning(&candidate).is_some() {
                // `MV` for `mv` would be a guess of nine powers of ten: the small one is common.
                let keep_first = found.is_some();
                if !keep_first {
                    found = Some(candidate);
                }
            }
        }
    }
    found
}

/// Units that suit a quantity, most usual first, for messages.
pub(crate) fn fitting(unit: Unit) -> &'static str {
    match unit {
        Unit::Volt => "V, mV, uV, kV",
        Unit::Ampere => "A, mA, uA, nA, pA",
        Unit::Ohm => "ohm, mohm, kohm, Mohm, or a letter code such as 4k7",
        Unit::Farad => "pF, nF, uF, mF, F, or a letter code such as 4u7",
        Unit::Henry => "nH, uH, mH, H, or a letter code such as 4u7",
        Unit::Second => "ns, us, ms, s, min, h, days, weeks, months, years",
        Unit::Hertz => "Hz, kHz, MHz",
        Unit::Watt => "W, mW, uW",
        Unit::Joule => "J, mJ, Wh, mWh",
        Unit::Coulomb => "mAh, Ah, C",
        Unit::Celsius => "degC, \u{b0}C",
        Unit::Kelvin => "K",
        Unit::KelvinPerWatt => "K/W",
        Unit::Fraction => "%",
        Unit::PerSecond => "/s, %/year, %/month, %/day",
        Unit::Kilogram => "g, mg, kg",
        Unit::Metre => "mm, um, m",
    }
}

/// The unit proposed where none is written.
pub(crate) fn usual(unit: Unit) -> &'static str {
    match unit {
        Unit::Volt => "V",
        Unit::Ampere => "mA",
        Unit::Ohm => "ohm",
        Unit::Farad => "uF",
        Unit::Henry => "uH",
        Unit::Second => "s",
        Unit::Hertz => "kHz",
        Unit::Watt => "W",
        Unit::Joule => "J",
        Unit::Coulomb => "mAh",
        Unit::Celsius => "degC",
        Unit::Kelvin => "K",
        Unit::KelvinPerWatt => "K/W",
        Unit::Fraction => "%",
        Unit::PerSecond => "/s",
        Unit::Kilogram => "g",
        Unit::Metre => "mm",
    }
}

/// Magnitude in SI beyond which a value on a supply board is absurd.
pub(super) fn largest(unit: Unit) -> f64 {
    match unit {
        Unit::Volt | Unit::Ampere | Unit::Farad => 1e5,
        Unit::Ohm => 1e15,
        Unit::Henry => 1e4,
        Unit::Second => 500.0 * YEAR_SECS,
        Unit::Hertz => 1e11,
        Unit::Watt => 1e7,
        Unit::Joule | Unit::Coulomb => 1e12,
        Unit::Celsius | Unit::Kelvin => 1000.0,
        Unit::KelvinPerWatt => 1e6,
        Unit::Fraction => 1e6,
        Unit::PerSecond => 1e9,
        Unit::Kilogram | Unit::Metre => 1e3,
    }
}
