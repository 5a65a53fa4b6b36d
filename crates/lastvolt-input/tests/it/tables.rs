//! Tables in models: rising, complete, of the right length.

use crate::annotated::check;

#[test]
fn tables_rise_and_have_rows_of_one_length() {
    check(
        r#"
[models.cell]
kind = "cell"
charge = "0 mAh"
#        ^^^^^^^ error[out-of-range]
open_circuit = [[0, "3 V"], [0.5, "2.9 V"], [0.5, "2 V"]]
#                                            ^^^ error[unsorted-table]
resistance = [[0, "10 ohm"], [1, "20 ohm", 3]]
#                            ^^^^^^^^^^^^^^^^ error[wrong-length]
[models.cell2]
kind = "cell"
charge = "100 mAh"
open_circuit = [[0, "3 V"], [1.5, "2.9 V"]]
#                            ^^^ error[out-of-range]
resistance = []
#            ^^ error[wrong-length]: empty list
[models.fet]
kind = "p-fet"
threshold = { typ = "0.7 V" }
#           ^^^^^^^^^^^^^^^^^ error[wrong-sign]: it is negative in a part with p channel
on_resistance = [["-4.5 V", "52 mohm"], ["-1.8 V", "108 mohm"]]
#                                        ^^^^^^^^ error[unsorted-table]
[models.led]
kind = "led"
forward = [["1 mA", "1.9 V"], ["2 mA", "1.8 V"]]
#                                      ^^^^^^^ error[unsorted-table]
[models.boost]
kind = "boost"
output = "3 V"
reference = "0.5 V"
#^^^^^^^^ error[one-of-two]
start = [["20 mA", "0.9 V"], ["1 mA", "0.65 V"]]
#                             ^^^^^^ error[unsorted-table]
efficiency = [["2 V", "1 mA", "110 %"]]
#                             ^^^^^^^ error[out-of-range]
enable = { low = "1 V", high = "0.4 V" }
#        ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[min-above-max]
[models.capacitor]
kind = "capacitor"
bias = [["0 V", 1], ["-1 V", 0.5]]
#                    ^^^^^^ error[out-of-range]
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn temperature_factors_fit_the_points_and_branches() {
    check(
        r#"
[models.cell]
kind = "cell"
polarisation = [{ ratio = 0.5, time = "10 s" }, { ratio = 1 }]
#                                               ^^^^^^^^^^^^^ error[missing-key]: `time` is missing
[models.cell2]
kind = "cell"
polarisation = [{ ratio = 0.5, time = "10 s" }]
temperature = { points = ["0 degC", "20 degC"], resistance = [2, 1, 0], polarisation = [[1, 1], [1, 1]] }
#                                                            ^^^^^^^^^ error[wrong-length]: 3 factors for 2 temperatures
#                                                                                      ^^^^^^^^^^^^^^^^ error[wrong-length]: 2 rows for 1 branches
[models.cell3]
kind = "cell"
wells = { available = 1.5, rate = "1e-4 /s" }
#                     ^^^ error[out-of-range]
limits = { end = "-1 V" }
#                ^^^^^^ error[out-of-range]
temperature = { points = ["20 degC", "0 degC"] }
#                                    ^^^^^^^^ error[unsorted-table]
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn p_channel_figures_become_magnitudes() {
    let loaded = check(
        r#"
[models.fet]
kind = "p-fet"
threshold = { min = "-1.0 V", typ = "-0.7 V", max = "-0.45 V", at = "1 mA" }
on_resistance = [["-1.8 V", "108 mohm"], ["-4.5 V", "52 mohm"]]
rated = { drain_source = "-12 V", gate_source = "8 V" }
[parts.Q1]
kind = "p-fet"
model = "fet"
pins = { drain = "A", gate = "GND", source = "VDD" }
"#,
    );
    let family = loaded.family.expect("a family");
    let lastvolt_core::model::Device::Fet(fet) = &family.boards[0].parts[0].device else {
        panic!("a transistor");
    };
    assert_eq!(
        (
            fet.threshold.low(),
            fet.threshold.si(),
            fet.threshold.high()
        ),
        (0.45, 0.7, 1.0)
    );
    assert_eq!(fet.threshold_at.as_amps(), 1e-3);
    assert_eq!(fet.on_resistance[0].0.as_volts(), 1.8);
    assert_eq!(fet.rated_drain_source.map(|v| v.as_volts()), Some(12.0));
    let names: Vec<&str> = family.boards[0].parts[0]
        .pins
        .iter()
        .map(|p| p.name.as_str())
        .collect();
    assert_eq!(names, ["drain", "source", "gate"]);
}

#[test]
fn shifts_of_a_cells_voltage_are_one_a_temperature() {
    let cell = |name: &str, shifts: &str| {
        format!(
            "[parts.{name}]\nkind = \"cell\"\ncharge = \"220 mAh\"\nopen_circuit = [[0, \"3 V\"], [1, \"2 V\"]]\nresistance = [[0, \"10 ohm\"]]\npins = [\"VDD\", \"GND\"]\n[parts.{name}.temperature]\npoints = [\"-10 degC\", \"20 degC\"]\nopen_circuit = {shifts}\n"
        )
    };
    let good = crate::annotated::check(&cell("BT1", "[\"-0.11 V\", \"0 V\"]"));
    let family = good.family.expect("a family");
    let lastvolt_core::model::Device::Cell(found) = &family.boards[0].parts[0].device else {
        panic!("a cell");
    };
    assert!((found.model.shift_volts(5.0) + 0.055).abs() < 1e-12);
    let one = cell("BT1", "[\"-0.11 V\"]");
    crate::annotated::check(&format!(
        "{one}#              ^^^^^^^^^^^ error[wrong-length]: `open_circuit` has 1 voltages for 2 temperatures\n"
    ));
    let far = cell("BT1", "[\"2.87 V\", \"0 V\"]");
    crate::annotated::check(&format!(
        "{far}#               ^^^^^^^^ error[out-of-range]: `open_circuit` shifts by 2.87 V\n"
    ));
}
