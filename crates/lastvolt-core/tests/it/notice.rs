//! Low-battery thresholds of solved lives, against closed forms.

use std::collections::BTreeMap;

use lastvolt_core::device::{CellModel, CellTemperature, Setpoint, Topology};
use lastvolt_core::model::{Family, WorkingRange};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Temperature, Time, Voltage};
use lastvolt_core::time::{Bursts, LifeRequest, Notice, life, notice};

use crate::kit::{self, cell_model, current_load, regulator};
use crate::netlist::{Netlist, assert_close, volts};

/// E falls straight from 3 V to 2 V over 100 C; 10 ohm, four times as much in the cold.
fn straight() -> CellModel {
    let mut model = cell_model(100.0, &[(0.0, 3.0), (1.0, 2.0)], &[(0.0, 10.0)]);
    model.temperature = Some(CellTemperature {
        celsius: vec![0.0, 20.0],
        resistance: vec![4.0, 1.0],
        rate: vec![1.0, 1.0],
        polarisation: Vec::new(),
        open_circuit: Vec::new(),
    });
    model
}

fn noticed(mut family: Family, wanted_secs: f64) -> Option<Notice> {
    let ambient = &mut family.requirement.ambient;
    ambient.low = Temperature::from_celsius(0.0);
    ambient.usual = Temperature::from_celsius(20.0);
    ambient.high = Temperature::from_celsius(20.0);
    family.requirement.notice = Some(Time::from_secs(wanted_secs));
    let request = LifeRequest {
        family: &family,
        board: &family.boards[0].name,
        profile: None,
        ambient: family.requirement.ambient.usual.into(),
        bursts: Bursts::Followed,
        positions: BTreeMap::new(),
    };
    let usual = life(&request, &Silent).expect("operating points");
    notice(&request, &usual, &Silent)
}

/// 1 mA from 100 C over 1 V is 10 uV a second, so that a notice of 5,000 s lies 50 mV above the end.
/// In the cold the rail is 30 mV lower all the time, and so is nothing else: the same notice.
#[test]
fn law_a_straight_fall_has_the_threshold_of_its_slope() {
    let board = Netlist::new("direct").cell("BT1", straight(), 1, "VDD");
    let mut load = current_load(&[("on", 1e-3)]);
    load.working = Some(WorkingRange {
        from: Voltage::from_volts(2.2),
        to: Voltage::from_volts(3.6),
    });
    let family = kit::family(vec![board.board()], vec![load]);
    let found = noticed(family, 5000.0).expect("a notice");
    let names: Vec<&str> = found.signals.iter().map(|s| s.name()).collect();
    assert_eq!(names, ["rail-at-rest", "rail-in-burst"]);
    let rest = &found.signals[0];
    assert_close(rest.threshold_volts, 2.25, 1e-4);
    assert_close(rest.fall_volts, 0.05, 1e-3);
    assert_close(rest.step_secs, 1000.0, 1e-3);
    assert_close(found.reached_secs().expect("a signal tells"), 5000.0, 1e-6);
    assert_close(
        rest.notice_secs[0].expect("an end in the cold"),
        5000.0,
        1e-3,
    );
    assert!(found.life_secs[0] < found.life_secs[1]);
}

/// A step-up converter holds the rail to the end: only the cells' net tells.
#[test]
fn a_rail_behind_a_converter_cannot_tell_and_the_cells_net_can() {
    let device = regulator(Topology::Boost, Setpoint::Output(volts(3.2)));
    let pins = [("in", "BAT"), ("out", "VDD"), ("gnd", "GND")];
    let board = Netlist::new("step-up")
        .cell("BT1", straight(), 1, "BAT")
        .regulator("U1", device, &pins);
    let family = kit::family(vec![board.board()], vec![current_load(&[("on", 1e-3)])]);
    let found = noticed(family, 5000.0).expect("a notice");
    let tells: Vec<(&str, bool)> = found
        .signals
        .iter()
        .map(|s| (s.net.as_str(), s.tells))
        .collect();
    assert_eq!(
        tells,
        [("VDD", false), ("VDD", false), ("BAT", true), ("BAT", true)]
    );
    assert_eq!(found.best, Some(2));
}

#[test]
fn a_life_shorter_than_the_notice_has_no_signal() {
    let board = Netlist::new("direct").cell("BT1", straight(), 1, "VDD");
    let family = kit::family(vec![board.board()], vec![current_load(&[("on", 1e-3)])]);
    let found = noticed(family, 1e9).expect("a notice");
    assert!(found.signals.is_empty() && found.reached_secs().is_none());
}
