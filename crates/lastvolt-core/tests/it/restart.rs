//! Until when a board can be switched on again, against a closed form.

use lastvolt_core::model::{BootStep, Load, Reset};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Current, Time, Voltage};
use lastvolt_core::time::{Bursts, Climate, Hang, LifeRequest, Restart, life, restart};

use crate::kit;
use crate::netlist::{Netlist, plain_capacitor};

/// A module that sleeps with 20 uA and boots with 9 mA for longer than the capacitor lasts.
fn with_boot() -> Load {
    let mut load = kit::current_load(&[("sleep", 20e-6)]);
    load.reset = Some(Reset {
        below: Voltage::from_volts(1.7),
        release: Voltage::from_volts(1.9),
        boot: vec![BootStep {
            span: Time::from_secs(0.1),
            current: Current::from_amps(0.009),
        }],
    });
    load
}

/// The boot takes 9 mA for longer than the capacitor lasts, so the cell must give it above the reset
/// threshold: R(d) <= (E - V)/I, with R rising in a straight line.
#[test]
fn ref_closed_form_a_boot_needs_a_cell_that_carries_it() {
    let cell = kit::cell_model(40.0, &[(0.0, 2.9)], &[(0.0, 20.0), (1.0, 220.0)]);
    let board = Netlist::new("coin")
        .cell("BT1", cell, 1, "VDD")
        .capacitor("C1", plain_capacitor(10e-6), "VDD", "GND")
        .board();
    let family = kit::family(vec![board], vec![with_boot()]);
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

/// Cells are as old as their life has made them, whatever the temperature of the start: with nothing
/// else that hangs on temperature a start at 0 degC is one at 40 degC.
#[test]
fn law_cells_age_at_the_temperature_of_their_life() {
    use lastvolt_core::quantity::{Rate, Temperature};
    let mut cell = kit::cell_model(60.0, &[(0.0, 2.9)], &[(0.0, 60.0), (1.0, 120.0)]);
    cell.ageing = Rate::from_per_sec(3e-7);
    let board = Netlist::new("coin")
        .cell("BT1", cell, 1, "VDD")
        .capacitor("C1", plain_capacitor(10e-6), "VDD", "GND")
        .board();
    let family = kit::family(vec![board], vec![with_boot()]);
    let hot = Temperature::from_celsius(40.0);
    let request = LifeRequest {
        family: &family,
        board: "coin",
        profile: None,
        ambient: Climate::Steady(hot),
        bursts: Bursts::Followed,
        positions: std::collections::BTreeMap::new(),
    };
    let found = life(&request, &Silent).expect("a life");
    let depth = |celsius: f64| {
        let ambient = Temperature::from_celsius(celsius);
        match restart(&request, &found, ambient, &Silent).expect("points") {
            Some(Restart::Until { depth, .. }) => depth,
            other => panic!("{other:?}"),
        }
    };
    assert!((depth(0.0) - depth(40.0)).abs() < 1e-9);
    // Without age the boot holds to (1.2 V / 9 mA - 60) / 60 > 1.
    assert!(depth(40.0) < 0.9);
}
