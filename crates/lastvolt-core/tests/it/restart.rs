//! Until when a board can be switched on again, against a closed form.

use lastvolt_core::model::{BootStep, Reset};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Current, Time, Voltage};
use lastvolt_core::time::{Bursts, Climate, Hang, LifeRequest, Restart, life, restart};

use crate::kit;
use crate::netlist::{Netlist, plain_capacitor};

/// The boot takes 9 mA for longer than the capacitor lasts, so the cell must give it above the reset
/// threshold: R(d) <= (E - V)/I, with R rising in a straight line.
#[test]
fn ref_closed_form_a_boot_needs_a_cell_that_carries_it() {
    let cell = kit::cell_model(40.0, &[(0.0, 2.9)], &[(0.0, 20.0), (1.0, 220.0)]);
    let board = Netlist::new("coin")
        .cell("BT1", cell, 1, "VDD")
        .capacitor("C1", plain_capacitor(10e-6), "VDD", "GND")
        .board();
    let mut load = kit::current_load(&[("sleep", 20e-6)]);
    load.reset = Some(Reset {
        below: Voltage::from_volts(1.7),
        release: Voltage::from_volts(1.9),
        boot: vec![BootStep {
            span: Time::from_secs(0.1),
            current: Current::from_amps(0.009),
        }],
    });
    let family = kit::family(vec![board], vec![load]);
    let ambient = family.requirement.ambient.usual;
    let request = LifeRequest {
        family: &family,
        board: "coin",
        profile: None,
        ambient: Climate::Steady(ambient),
        bursts: Bursts::Followed,
        positions: std::collections::BTreeMap::new(),
    };
    let found = life(&request, &Silent).expect("a life");
    let answer = restart(&request, &found, ambient, &Silent).expect("points");
    let Some(Restart::Until {
        depth,
        hang,
        time_secs,
    }) = answer
    else {
        panic!("{answer:?}");
    };
    let expected = ((2.9 - 1.7) / 0.009 - 20.0) / 200.0;
    // Seven halvings of a whole life.
    assert!((depth - expected).abs() < 0.01, "{depth} {expected}");
    assert_eq!(hang, Hang::Hiccup("module".to_owned()));
    let share = time_secs / found.life_secs.expect("it ends");
    assert!((share - depth).abs() < 0.01, "{share}");
}
