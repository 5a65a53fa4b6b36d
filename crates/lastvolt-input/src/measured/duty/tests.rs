//! Loads, regimes and places that are understood, and those that are not.

use super::*;

fn secs(secs: f64) -> Time {
    Time::from_secs(secs)
}

fn milliwatts(milliwatts: f64, span_secs: f64) -> Step {
    Step {
        demand: Demand::Power(Power::from_watts(milliwatts / 1e3)),
        span: Some(secs(span_secs)),
    }
}

#[test]
fn loads_are_currents_resistors_powers_or_steps() {
    let single = |text| load(text).expect(text)[0].demand;
    assert_eq!(
        single("15 kohm"),
        Demand::Resistance(Resistance::from_ohms(15e3))
    );
    assert_eq!(
        single("3k9"),
        Demand::Resistance(Resistance::from_ohms(3900.0))
    );
    assert_eq!(single(" 100 mA "), Demand::Current(Current::from_amps(0.1)));
    assert_eq!(single("330mW"), Demand::Power(Power::from_watts(0.33)));
    assert_eq!(
        load("1500 mW for 2 s then 650 mW for 28 s"),
        Ok(vec![milliwatts(1500.0, 2.0), milliwatts(650.0, 28.0)])
    );
    let rests = load("10 mA for 5 s then rest for 55 s").expect("two steps");
    assert_eq!(rests[1].demand, Demand::Rest);
    assert_eq!(
        pulse("10 mA for 15 s").expect("a pulse").span,
        Some(secs(15.0))
    );
    assert_eq!(
        pulse("10 mA for 0 s").expect("at once").span,
        Some(secs(0.0))
    );
}

fn wrong<T: std::fmt::Debug>(read: fn(&str) -> Result<T, Slip>, text: &str) -> (String, String) {
    let slip = read(text).expect_err(text);
    let at = text.get(slip.at.clone()).expect("inside the text");
    (slip.code.to_owned(), at.to_owned())
}

#[test]
fn loads_that_are_none_are_marked_where_they_fail() {
    let cases = [
        ("15 kohm continuous", "left-over", "continuous"),
        ("100 ma", "unit-spelling", "ma"),
        ("100 volts", "not-a-load", "100 volts"),
        ("light", "not-a-load", "light"),
        ("0 mA", "out-of-range", "0 mA"),
        ("-5 mA", "out-of-range", "-5 mA"),
        ("10 mA ±1 %", "not-a-load", "10 mA ±1 %"),
        ("10 mA for 2 s then 5 mA", "no-span", "5 mA"),
        ("10 mA for 2 s then 5 mA for 3 V", "unit-mismatch", "V"),
        (
            "10 mA for 2 s for 3 s",
            "left-over",
            "10 mA for 2 s for 3 s",
        ),
        ("rest", "not-a-load", "rest"),
        ("then", "not-a-load", ""),
        (
            "10 mA for 0 s then 5 mA for 1 s",
            "no-span",
            "10 mA for 0 s then 5 mA for 1 s",
        ),
    ];
    for (text, code, at) in cases {
        let (found, place) = wrong(load, text);
        assert_eq!((found.as_str(), place.as_str()), (code, at), "{text}");
    }
    assert_eq!(
        wrong(pulse, "1 mA for 1 s then 2 mA for 1 s").0,
        "wrong-length"
    );
}

#[test]
fn regimes_are_windows_inner_to_outer() {
    let window = |on, every| Window {
        on: secs(on),
        every: secs(every),
    };
    assert_eq!(regime("  "), Ok(vec![]));
    assert_eq!(regime("1 h each day"), Ok(vec![window(3600.0, 86_400.0)]));
    assert_eq!(
        regime("15 s each 1 min; 8 h each 1 day"),
        Ok(vec![window(15.0, 60.0), window(28_800.0, 86_400.0)])
    );
}

#[test]
fn regimes_that_are_none_are_marked_where_they_fail() {
    let cases = [
        ("1 h/day", "not-a-regime", "1 h/day"),
        ("continuous", "not-a-regime", "continuous"),
        ("1 h each 1 day;", "not-a-regime", ""),
        ("1 hour each 1 day", "unit-spelling", "hour"),
        ("1 day each 1 h", "too-long-a-window", "1 day each 1 h"),
        (
            "8 h each 1 day; 15 s each 1 min",
            "windows-out-of-order",
            "15 s each 1 min",
        ),
    ];
    for (text, code, at) in cases {
        let (found, place) = wrong(regime, text);
        assert_eq!((found.as_str(), place.as_str()), (code, at), "{text}");
    }
}

#[test]
fn places_are_times_charges_and_shares() {
    assert_eq!(place("819 h"), Ok(Where::Time(secs(819.0 * 3600.0))));
    assert_eq!(
        place("80 mAh"),
        Ok(Where::Charge(Charge::from_coulombs(288.0)))
    );
    assert_eq!(place("50 %"), Ok(Where::Share(0.5)));
    assert_eq!(place("50 % depth"), Ok(Where::Depth(0.5)));
    assert_eq!(place("fresh"), Ok(Where::Depth(0.0)));
    let cases = [
        ("half", "not-a-place", "half"),
        ("120 %", "out-of-range", "120 %"),
        ("-1 h", "out-of-range", "-1 h"),
        ("50", "not-a-place", "50"),
    ];
    for (text, code, at) in cases {
        let (found, marked) = wrong(place, text);
        assert_eq!((found.as_str(), marked.as_str()), (code, at), "{text}");
    }
}
