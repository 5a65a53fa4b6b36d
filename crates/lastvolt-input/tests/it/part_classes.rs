//! The classes of discrete parts: their curves come back from the laws that are fitted to them, and
//! they meet published figures.

use lastvolt_core::device::{Capacitor, Channel, Diode, Fet};
use lastvolt_core::model::{Device, Kind};
use lastvolt_input::catalog;

use crate::annotated::check;

/// Names of the entries of these kinds.
fn names(kinds: &[Kind]) -> Vec<(Kind, String)> {
    let entries = catalog().into_iter();
    let found = entries.filter(|e| kinds.contains(&e.kind));
    found.map(|e| (e.kind, e.name)).collect()
}

fn device(kind: Kind, model: &str) -> Device {
    let pins = match kind {
        Kind::PFet | Kind::NFet => "{ drain = \"A\", source = \"VDD\", gate = \"GND\" }",
        _ => "[\"VDD\", \"GND\"]",
    };
    let word = kind.word();
    let text = format!("[parts.X1]\nkind = \"{word}\"\nmodel = \"{model}\"\npins = {pins}\n");
    let family = check(&text).family.expect("a family");
    family.boards[0].parts[0].device.clone()
}

fn diode(kind: Kind, model: &str) -> Diode {
    match device(kind, model) {
        Device::Diode(diode) => diode,
        Device::Led(led) => led.junction,
        _ => panic!("{model} is a diode"),
    }
}

fn fet(kind: Kind, model: &str) -> Fet {
    match device(kind, model) {
        Device::Fet(fet) => fet,
        _ => panic!("{model} is a transistor"),
    }
}

fn capacitor(model: &str) -> Capacitor {
    match device(Kind::Capacitor, model) {
        Device::Capacitor(capacitor) => capacitor,
        _ => panic!("{model} is a capacitor"),
    }
}

#[track_caller]
fn assert_near(got: f64, expected: f64, share: f64, what: &str) {
    assert!(
        (got / expected - 1.0).abs() <= share,
        "{what}: {got} against {expected}"
    );
}

/// Three parameters go through all points of a curve: within 2.5 % of the voltage.
#[test]
fn junctions_come_near_every_point_of_their_tables() {
    for (kind, name) in names(&[Kind::Diode, Kind::Led]) {
        let diode = diode(kind, &name);
        assert!(3 <= diode.forward.len(), "{name}");
        let junction = diode.junction(25.0);
        for (amps, volts) in &diode.forward {
            let got = junction.volts(amps.as_amps());
            assert_near(got, volts.si(), 0.025, &format!("{name} at {amps:?}"));
        }
    }
}

/// Two parameters and the threshold go through all points of a table: 6 % of the resistance.
#[test]
fn channels_come_near_every_point_of_their_tables() {
    for (kind, name) in names(&[Kind::PFet, Kind::NFet]) {
        let fet = fet(kind, &name);
        let fits = if kind == Kind::PFet {
            Channel::P
        } else {
            Channel::N
        };
        assert_eq!(fet.channel, fits, "{name}");
        let law = fet.law(25.0);
        for (volts, ohms) in &fet.on_resistance {
            let got = law.on_ohms(volts.as_volts());
            assert_near(got, ohms.si(), 0.06, &format!("{name} at {volts:?}"));
        }
        let threshold = fet.threshold.si();
        let (amps, _) = law.amps(threshold, threshold, 0.0);
        let stated = fet.threshold_at.as_amps();
        assert_near(amps, stated, 0.01, &format!("{name} at its threshold"));
    }
}

/// Checks FT01 to FT03 (Vishay 70833), FT04, FT05 (73135), FT08 to FT10 (72257), FT11, FT12 (Si8409DB)
/// and FT13 to FT15 (74400): typical on-resistance in milliohms, by the fitted law within 6 %.
#[test]
fn ref_on_resistances_as_printed() {
    for (kind, name, volts, milliohms) in [
        (Kind::PFet, "p-fet-low-threshold", 4.5, 44.0),
        (Kind::PFet, "p-fet-low-threshold", 2.5, 60.0),
        (Kind::PFet, "p-fet-low-threshold", 1.8, 87.0),
        (Kind::PFet, "p-fet-1v5", 4.5, 20.0),
        (Kind::PFet, "p-fet-1v5", 2.5, 24.0),
        (Kind::PFet, "p-fet-1v8-low-resistance", 4.5, 6.8),
        (Kind::PFet, "p-fet-1v8-low-resistance", 2.5, 8.5),
        (Kind::PFet, "p-fet-1v8-low-resistance", 1.8, 11.2),
        (Kind::PFet, "p-fet-2v5-30V", 4.5, 38.0),
        (Kind::PFet, "p-fet-2v5-30V", 2.5, 52.0),
        (Kind::NFet, "n-fet-low-threshold", 1.2, 49.0),
        (Kind::NFet, "n-fet-low-threshold", 1.8, 29.0),
        (Kind::NFet, "n-fet-low-threshold", 4.5, 25.0),
    ] {
        let got = fet(kind, name).law(25.0).on_ohms(volts);
        assert_near(got * 1e3, milliohms, 0.06, &format!("{name} at {volts} V"));
    }
}

/// Forward voltages as several makers print them for indicators at 2 mA (TLLR540x, TLLY540x, TLLG540x,
/// HLMP-4700, HLMP-4719, APTF1616), and at 20 mA for red gallium arsenide phosphide (APT1608EC 2.0 V).
/// Within 3 %, which is less than makers differ.
#[test]
fn ref_indicators_at_their_printed_points() {
    for (name, amps, volts) in [
        ("led-red", 2e-3, 1.8),
        ("led-red-gaasp", 2e-3, 1.9),
        ("led-red-gaasp", 20e-3, 2.0),
        ("led-red-bright", 2e-3, 1.8),
        ("led-yellow", 2e-3, 1.9),
        ("led-yellow-2V4", 2e-3, 2.4),
        ("led-green", 2e-3, 1.9),
        ("led-green-bright", 2e-3, 2.65),
        ("led-blue", 2e-3, 2.65),
    ] {
        let got = diode(Kind::Led, name).junction(25.0).volts(amps);
        assert_near(got, volts, 0.03, &format!("{name} at {amps} A"));
    }
}

/// The white class against a published model card of a white diode (0.27 nA, emission coefficient
/// 6.79, 5.65 ohm, at 27 degC; figures computed from it): within 5 % from 1 to 20 mA.
#[test]
fn ref_white_indicator_near_a_published_card() {
    let junction = diode(Kind::Led, "led-white").junction(25.0);
    for (amps, volts) in [(1e-3, 2.662), (2e-3, 2.789), (5e-3, 2.967), (20e-3, 3.295)] {
        assert_near(junction.volts(amps), volts, 0.05, &format!("{amps} A"));
    }
}

/// Checks SC01 to SC04 (BAT54, several makers), SC06, SC07 (NRVBSS24NT3G in onsemi AND90146), and
/// points computed from a published card of the PMEG2010EA (1.686 uA, 1.015, 0.1249 ohm, at 27 degC).
#[test]
fn ref_schottky_forward_voltages() {
    for (name, amps, volts) in [
        ("schottky-small", 1e-4, 0.22),
        ("schottky-small", 1e-3, 0.29),
        ("schottky-small", 1e-2, 0.35),
        ("schottky-small", 3e-2, 0.41),
        ("schottky-2A-40V", 0.5, 0.35),
        ("schottky-2A-40V", 1.0, 0.40),
        ("schottky-1A-low-drop", 1e-3, 0.1675),
        ("schottky-1A-low-drop", 1.0, 0.4737),
    ] {
        let got = diode(Kind::Diode, name).junction(25.0).volts(amps);
        assert_near(got, volts, 0.025, &format!("{name} at {amps} A"));
    }
}

/// Checks DC01 to DC06, DC08 and a maker's note: capacitance that is left under bias. The curves go
/// through these points; 1 % is the rounding of the shares.
#[test]
fn ref_capacitance_left_under_bias() {
    for (name, volts, microfarads) in [
        ("ceramic-22uF-6V3-0603", 3.3, 8.2),
        ("ceramic-100uF-6V3-1206", 1.8, 90.0),
        ("ceramic-100uF-6V3-Y5V", 1.8, 60.0),
        ("ceramic-4u7-16V-0805", 12.0, 1.53),
        ("ceramic-4u7-16V-1206", 12.0, 3.43),
        ("ceramic-4u7-16V-1210", 12.0, 4.16),
        ("ceramic-4u7-6V3-Y5V-0603", 5.0, 0.33),
        ("ceramic-10uF-10V-0805", 5.0, 5.0),
        ("ceramic-10uF-10V-1206", 5.0, 9.3),
    ] {
        let got = capacitor(name).farads_at(volts) * 1e6;
        assert_near(got, microfarads, 0.01, &format!("{name} at {volts} V"));
    }
    // From memory, 10 uF 6.3 V 0603: 5 to 7 uF at 3.0 to 3.3 V.
    let left = capacitor("ceramic-10uF-6V3-0603").farads_at(3.15) * 1e6;
    assert!((5.0..7.0).contains(&left), "{left}");
}

/// A ceramic keeps less the more voltage is on it, and a class-2 one of 1 uF and more leaks at most
/// what 50 ohm farad let through (Murata FAQ 0039: 10 uF at 6.3 V 1.26 uA).
#[test]
fn ceramics_lose_with_bias_and_leak_by_their_insulation() {
    let ceramics = names(&[Kind::Capacitor]);
    let ceramics = ceramics.iter().filter(|n| n.1.starts_with("ceramic"));
    let mut checked = 0;
    for (_, name) in ceramics {
        let part = capacitor(name);
        let rated = part.rated.expect("a rating").as_volts();
        let kept: Vec<f64> = (0..=8)
            .map(|n| part.kept_share(rated * f64::from(n) / 8.0))
            .collect();
        assert!(kept.windows(2).all(|w| w[1] <= w[0]), "{name}: {kept:?}");
        assert!((kept[0] - 1.0).abs() < 1e-12, "{name}");
        let leakage = part.leakage.expect("a leakage");
        let largest = leakage.max.expect("a maximum").as_amps();
        assert!(leakage.si() < largest, "{name}");
        if 1e-6 <= part.value.si() {
            assert_near(largest, rated * part.value.si() / 50.0, 0.01, name);
            checked += 1;
        }
    }
    assert!(15 <= checked, "{checked}");
    let murata = capacitor("ceramic-10uF-6V3-0603")
        .leakage
        .and_then(|l| l.max);
    assert_near(murata.expect("a maximum").as_amps(), 1.26e-6, 1e-9, "10 uF");
}
