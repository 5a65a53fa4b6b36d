//! A followed cell beside the life of a board of one resistor.

use lastvolt_core::device::CellModel;
use lastvolt_core::fit::{Amount, Duty, predict};
use lastvolt_core::quantity::{Quantity, Time, Voltage};

use super::cells::{always, coin, filmed, ohms, round, service, steep, test};
use crate::kit;
use crate::life::live;
use crate::netlist::{Netlist, assert_close, constant_amps, family, load};

/// Seconds until a load that draws next to nothing beside a resistor misses its least voltage.
fn lives(model: CellModel, resistor: f64, least: f64) -> f64 {
    let board = Netlist::new("b")
        .cell("BT1", model, 1, "VDD")
        .resistor("R1", resistor, "VDD", "GND")
        .board();
    let mut family = family(vec![board]);
    let mut watched = load("module", constant_amps(1e-12), "VDD");
    watched.working = kit::load_on("VDD", Vec::new()).working;
    if let Some(range) = &mut watched.working {
        (range.from, range.to) = (Voltage::from_si(least), Voltage::from_si(4.0));
    }
    family.loads.push(watched);
    live(&family).life_secs.expect("an end")
}

fn followed(model: &CellModel, duty: Duty, least: f64) -> f64 {
    let time = Amount::Time(Time::from_secs(1.0));
    predict(model, &test("service", duty, &[service(least, time)]))[0].value
}

#[test]
fn law_a_life_on_one_resistor_is_the_service_of_its_cell() {
    for (model, resistor, least) in [
        (round(), 10.0, 1.2),
        (round(), 10.0, 0.9),
        (round(), 43.0, 0.8),
        (coin(), 15e3, 2.4),
        (coin(), 2e3, 2.0),
        (filmed(), 1e3, 2.8),
        (steep(), 600.0, 2.55),
    ] {
        let service = followed(&model, always(ohms(resistor)), least);
        let life = lives(model, resistor, least);
        println!("{resistor} {least}: {:+.5}", service / life - 1.0);
        assert_close(service, life, 0.005);
    }
}
