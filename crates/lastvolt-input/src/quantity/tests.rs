//! Values in text: what is read, and what is said about what is not.

use super::*;
use Unit::{
    Ampere, Celsius, Coulomb, Farad, Fraction, Henry, Hertz, Joule, Ohm, PerSecond, Second, Volt,
};

/// Reads a value and checks it to the last bit but one.
fn check(text: &str, unit: Unit, value: f64) {
    let read = parse(text, unit).unwrap_or_else(|e| panic!("{text}: {}", e.says));
    let width = 2.0 * f64::EPSILON * value.abs();
    assert!(
        (read.value - value).abs() <= width,
        "{text}: {}",
        read.value
    );
}

/// Reads a value that is wrong: its code, the bytes under the caret, and the patch.
fn check_wrong(text: &str, unit: Unit, code: &str, under: &str, patch: Option<&str>) {
    let error = parse(text, unit).expect_err(text);
    assert_eq!(error.code, code, "{text}: {}", error.says);
    assert_eq!(&text[error.at.clone()], under, "{text}: {}", error.says);
    assert_eq!(error.patch.as_deref(), patch, "{text}");
}

/// IEC 60062 letter codes for resistors (published).
#[test]
fn ref_iec60062_resistors() {
    for (code, ohms) in [
        ("R47", 0.47),
        ("4R7", 4.7),
        ("470R", 470.0),
        ("4K7", 4700.0),
        ("47K3", 47_300.0),
        ("470K", 470e3),
        ("4M7", 4.7e6),
        ("1M0", 1e6),
    ] {
        assert_eq!(parse(code, Ohm).map(|r| r.value), Ok(ohms), "{code}");
    }
}

/// IEC 60062 letter codes for capacitors (from memory, high confidence).
#[test]
fn ref_iec60062_capacitors() {
    for (code, farads) in [
        ("4n7", 4.7e-9),
        ("100n", 1e-7),
        ("4u7", 4.7e-6),
        ("3p3", 3.3e-12),
    ] {
        assert_eq!(parse(code, Farad).map(|r| r.value), Ok(farads), "{code}");
    }
}

/// IEC 60062 tolerance letters (from memory, high confidence).
#[test]
fn ref_iec60062_tolerance_letters() {
    for (letter, percent) in [
        ('B', 0.1),
        ('C', 0.25),
        ('D', 0.5),
        ('F', 1.0),
        ('G', 2.0),
        ('J', 5.0),
        ('K', 10.0),
        ('M', 20.0),
    ] {
        let read = parse(&format!("4K7{letter}"), Ohm).expect("a code");
        let (low, high) = read.limits.expect("a tolerance");
        assert!(
            (low - 4700.0 * (1.0 - percent / 100.0)).abs() < 1e-9,
            "{letter}"
        );
        assert!(
            (high - 4700.0 * (1.0 + percent / 100.0)).abs() < 1e-9,
            "{letter}"
        );
    }
}

#[test]
fn values_with_prefixes_are_exact() {
    check("10 uF", Farad, 10e-6);
    check("10uF", Farad, 10e-6);
    check("10 \u{b5}F", Farad, 10e-6);
    check("10 \u{3bc}F", Farad, 10e-6);
    check("100nF", Farad, 100e-9);
    check("2.1 V", Volt, 2.1);
    check("3.2 ms", Second, 3.2e-3);
    check("-15 degC", Celsius, -15.0);
    check("-15 \u{b0}C", Celsius, -15.0);
    check("5 %", Fraction, 0.05);
    check("330 \u{3a9}", Ohm, 330.0);
    check("330 k\u{2126}", Ohm, 330e3);
    check("10 Kohm", Ohm, 10e3);
    check("50 mohm", Ohm, 0.05);
    check("2 Mohm", Ohm, 2e6);
    check("4k7 ohm", Ohm, 4700.0);
    check("4k7\u{3a9}", Ohm, 4700.0);
    check("2R2", Ohm, 2.2);
    check("10k", Ohm, 1e4);
    check("4.7k", Ohm, 4.7e3);
    check("47n", Farad, 47e-9);
    check("4u7", Henry, 4.7e-6);
    check("10 uH", Henry, 1e-5);
    check("10uH", Henry, 1e-5);
    check("500 kHz", Hertz, 5e5);
    check("1e-3 A", Ampere, 1e-3);
    check("+2.5E3 mA", Ampere, 2.5);
    check(" 7 mA ", Ampere, 7e-3);
    check("0.1", Fraction, 0.1);
}

#[test]
fn times_charges_and_energies_use_their_own_units() {
    check("235 mAh", Coulomb, 846.0);
    check("1.2 Ah", Coulomb, 4320.0);
    check("12 C", Coulomb, 12.0);
    check("2 Wh", Joule, 7200.0);
    check("1 min", Second, 60.0);
    check("8 h", Second, 28_800.0);
    check("1 day", Second, 86_400.0);
    check("2 weeks", Second, 1_209_600.0);
    check("18 months", Second, 1.5 * 365.25 * 86_400.0);
    check("10 years", Second, 3652.5 * 86_400.0);
    check("20 us", Second, 20e-6);
}

#[test]
fn rates_may_be_shares_per_time() {
    check("1.5e-4 /s", PerSecond, 1.5e-4);
    check("1.5e-4 1/s", PerSecond, 1.5e-4);
    check("3 %/year", PerSecond, 0.03 / (365.25 * 86_400.0));
    check("3 % / year", PerSecond, 0.03 / (365.25 * 86_400.0));
    check("1 %/month", PerSecond, 0.12 / (365.25 * 86_400.0));
    check("36 /h", PerSecond, 0.01);
    check_wrong("3 %/yr", PerSecond, "unit-spelling", "yr", Some("years"));
    check_wrong("3 %", PerSecond, "unit-mismatch", "%", None);
    check_wrong("3 %/V", PerSecond, "unit-mismatch", "V", None);
}

#[test]
fn tolerances_set_limits() {
    for text in [
        "10k \u{b1}1 %",
        "10k +/-1 %",
        "10 kohm +-1%",
        "10k\u{b1}100 ohm",
        "10KF",
    ] {
        let read = parse(text, Ohm).unwrap_or_else(|e| panic!("{text}: {}", e.says));
        assert_eq!(read.value, 1e4);
        let (low, high) = read.limits.expect("limits");
        assert!(
            (low - 9900.0).abs() < 1e-9 && (high - 10_100.0).abs() < 1e-9,
            "{text}"
        );
    }
    check_wrong("10k \u{b1}1 V", Ohm, "bad-tolerance", "1 V", None);
    check_wrong("10k \u{b1}", Ohm, "bad-tolerance", "\u{b1}", None);
    check_wrong("10k \u{b1}200 %", Ohm, "bad-tolerance", "200 %", None);
    check_wrong("10k \u{b1}5", Ohm, "bad-tolerance", "5", Some("5 %"));
    check_wrong("4k7 V", Ohm, "unit-mismatch", "V", None);
    check_wrong("4k7 ohms", Ohm, "unit-spelling", "ohms", Some("ohm"));
    check_wrong("10kX", Ohm, "bad-tolerance", "X", None);
}

#[test]
fn missing_and_wrong_units_are_told_apart() {
    check_wrong("10", Volt, "bare-number", "10", Some("10 V"));
    check_wrong("0.12", Ohm, "bare-number", "0.12", Some("0.12 ohm"));
    check_wrong("6.3", Farad, "bare-number", "6.3", Some("6.3 uF"));
    check_wrong("10 Hz", Second, "unit-mismatch", "Hz", None);
    check_wrong("10 V", Ampere, "unit-mismatch", "V", None);
    check_wrong("20 C", Celsius, "unit-spelling", "C", Some("degC"));
    check_wrong("20 parsec", Second, "unknown-unit", "parsec", None);
    check_wrong("2 hours", Second, "unit-spelling", "hours", Some("h"));
    check_wrong("2 d", Second, "unit-spelling", "d", Some("days"));
    check_wrong("5 v", Volt, "unit-spelling", "v", Some("V"));
    check_wrong("10 uf", Farad, "unit-spelling", "uf", Some("uF"));
    check_wrong("235 mAH", Coulomb, "unit-spelling", "mAH", Some("mAh"));
    check_wrong("10 KHz", Hertz, "unit-spelling", "KHz", Some("kHz"));
    check_wrong("1 h 30 min", Second, "left-over", "30 min", None);
    check_wrong("10 k", Volt, "unknown-unit", "k", None);
    check_wrong("banana", Volt, "not-a-value", "banana", None);
    check_wrong("", Volt, "empty-value", "", None);
    check_wrong("1,5 V", Volt, "decimal-comma", "1,5", Some("1.5"));
    check_wrong("1,500 V", Volt, "decimal-comma", "1,500", None);
    check_wrong("--5 V", Volt, "not-a-value", "--5 V", None);
}

#[test]
fn prefixes_of_the_wrong_case_are_caught_where_the_value_is_absurd() {
    check_wrong("10 MV", Volt, "wrong-case", "MV", Some("mV"));
    check_wrong("10 MA", Ampere, "wrong-case", "MA", Some("mA"));
    check_wrong("10 MF", Farad, "wrong-case", "MF", Some("mF"));
    check_wrong("500 mHz", Hertz, "wrong-case", "mHz", Some("MHz"));
    check_wrong("4m7", Ohm, "wrong-case", "m", Some("M"));
    check_wrong("10m", Ohm, "wrong-case", "m", Some("M"));
    check_wrong("10U", Farad, "wrong-case", "U", Some("u"));
    check_wrong("1r5", Ohm, "wrong-case", "r", Some("R"));
}

#[test]
fn absurd_values_are_refused() {
    check_wrong("1e999 V", Volt, "not-finite", "1e999 V", None);
    check_wrong(
        "1e99999999999999999999 V",
        Volt,
        "not-finite",
        "1e99999999999999999999 V",
        None,
    );
    check_wrong("nan V", Volt, "not-a-value", "nan V", None);
    check_wrong("-300 degC", Celsius, "out-of-range", "-300 degC", None);
    check_wrong("1e7 V", Volt, "out-of-range", "1e7 V", None);
    check_wrong("1000 years", Second, "out-of-range", "1000 years", None);
    let long = "1".repeat(1_000_000);
    assert_eq!(parse(&long, Volt).map_err(|e| e.code), Err("too-long"));
}

mod random {
    use proptest::prelude::*;

    const UNITS: [super::Unit; 13] = [
        super::Volt,
        super::Ampere,
        super::Ohm,
        super::Farad,
        super::Henry,
        super::Second,
        super::Hertz,
        super::Unit::Watt,
        super::Joule,
        super::Coulomb,
        super::Celsius,
        super::Fraction,
        super::PerSecond,
    ];

    proptest! {
        #![proptest_config(ProptestConfig { cases: 4000, failure_persistence: None, ..ProptestConfig::default() })]

        /// Whatever is written, the answer is a finite value or an error whose bytes lie in the text.
        #[test]
        fn law_any_text_has_an_answer(text in "[-+0-9.,eEkKmMuµnpRFGΩ%±/ hVAsoHzC°]{0,14}", unit in 0..13_usize) {
            match super::parse(&text, UNITS[unit]) {
                Ok(read) => {
                    prop_assert!(read.value.is_finite());
                    if let Some((low, high)) = read.limits {
                        prop_assert!(low <= read.value && read.value <= high);
                    }
                }
                Err(error) => prop_assert!(text.get(error.at).is_some()),
            }
        }
    }
}
