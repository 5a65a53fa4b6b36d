//! Detectors, load switches, ideal diodes, Zener diodes, resettable fuses and momentary switches as
//! they are written.

use lastvolt_core::device::{Blocking, OutputStage};
use lastvolt_core::model::Device;

use crate::annotated::check;

fn device(part: &str) -> Device {
    let family = check(&format!("[parts.X1]\n{part}")).family;
    let family = family.expect("a family");
    let part = family.boards[0].parts.iter().find(|p| p.name == "X1");
    part.expect("the part").device.clone()
}

const THREE: &str = "pins = { in = \"A\", out = \"VDD\", gnd = \"GND\" }\n";

#[test]
fn a_detector_has_a_threshold_and_defaults() {
    let text =
        format!("kind = \"detector\"\nthreshold = \"1.8 V\"\nhysteresis = \"90 mV\"\n{THREE}");
    let Device::Detector(d) = device(&text) else {
        panic!("a detector");
    };
    assert_eq!(d.output, OutputStage::OpenDrain);
    assert!((d.release_volts() - 1.89).abs() < 1e-12);
    assert!((d.output_resistance.si() - 100.0).abs() < 1e-12);
}

#[test]
fn a_load_switch_without_enable_is_always_on() {
    let text = format!("kind = \"load-switch\"\non_resistance = \"60 mohm\"\n{THREE}");
    let Device::LoadSwitch(s) = device(&text) else {
        panic!("a load switch");
    };
    assert!(s.enable.is_none());
    assert_eq!(s.reverse_blocking, Blocking::Never);
}

#[test]
fn what_is_wrong_with_them_is_said() {
    check(
        r#"
[parts.U1]
kind = "load-switch"
on_resistance = "60 mohm"
enable = { low = "0.4 V", high = "1 V" }
pins = { in = "A", out = "VDD", gnd = "GND" }
#      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[missing-pin]: needs the pin `enable`
[parts.F1]
kind = "ptc"
resistance = "1 ohm"
hold = "500 mA"
trip = "400 mA"
#      ^^^^^^^^ error[min-above-max]: `trip` is not above `hold`
pins = ["A", "VDD"]
[parts.D1]
kind = "zener"
breakdown = "5.6 V"
test_current = "5 mA"
dynamic_resistance = "15 ohm"
leakage = "1 uA"
leakage_at = "6 V"
#            ^^^^^ error[out-of-range]: not below the `breakdown` voltage
pins = ["A", "VDD"]
[parts.S1]
kind = "switch"
pins = { 1 = "A", 2 = "VDD" }
positions = { on = [["1", "2"]], off = [] }
returns = "off"
#         ^^^^^ error[not-usual]: `returns` is not the `usual` position
"#,
    );
}

#[test]
fn a_momentary_switch_knows_where_it_springs_back_to() {
    let text = "kind = \"switch\"\npins = { 1 = \"A\", 2 = \"VDD\" }\npositions = { off = [], on = [[\"1\", \"2\"]] }\nreturns = \"off\"\n";
    let Device::Switch(s) = device(text) else {
        panic!("a switch");
    };
    assert_eq!(s.returns, Some(0));
    assert_eq!(s.returns, Some(s.usual));
}
