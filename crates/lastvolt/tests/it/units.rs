//! Lives of units of the example family: that settled lives, scaled, stand for followed ones.

use std::collections::BTreeMap;

use lastvolt_core::model::{Device, Family};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Charge, Quantity, Spread};
use lastvolt_core::time::{Bursts, Climate, LifeRequest, life};
use lastvolt_input::{Text, read};

use crate::program::example;

fn family() -> Family {
    let names = [
        "family.toml",
        "coin.toml",
        "one-cell.toml",
        "two-cell.toml",
        "usb.toml",
    ];
    let texts: Vec<Text> = names
        .iter()
        .map(|name| Text {
            name: (*name).to_owned(),
            text: std::fs::read_to_string(example().join(name)).expect("a file"),
        })
        .collect();
    read(&texts).family.expect("a family")
}

fn secs(family: &Family, board: &str, bursts: Bursts) -> f64 {
    let request = LifeRequest {
        family,
        board,
        profile: family.profiles.first().map(|p| p.name.as_str()),
        ambient: Climate::usual(family),
        bursts,
        positions: BTreeMap::new(),
    };
    let found = life(&request, &Silent).expect("a life");
    found.life_secs.expect("an end")
}

/// The family with charge and resistance of a board's cells this many standard deviations off.
fn moved(family: &Family, board: &str, charge: f64, resistance: f64) -> Family {
    let mut family = family.clone();
    let boards = family.boards.iter_mut().filter(|b| b.name == board);
    for part in boards.flat_map(|b| &mut b.parts) {
        if let Device::Cell(cell) = &mut part.device {
            let model = &mut cell.model;
            let spread = model.spread;
            assert!(0.0 < spread.charge.si() && 0.0 < spread.resistance.si());
            let factor = 1.0 + charge * spread.charge.si();
            model.charge = Spread::exactly(Charge::from_si(factor * model.charge.si()));
            let factor = 1.0 + resistance * spread.resistance.si();
            model.resistance = model.resistance.map(|_, ohms| factor * ohms);
        }
    }
    family
}

#[test]
fn settled_lives_of_units_stand_for_followed_ones() {
    let family = family();
    for board in ["coin", "one-cell", "two-cell"] {
        let followed = secs(&family, board, Bursts::Followed);
        let ratio = followed / secs(&family, board, Bursts::Settled);
        for (charge, resistance) in [(-2.0, 2.0), (2.0, 2.0), (2.0, -2.0), (-2.0, -2.0)] {
            let unit = moved(&family, board, charge, resistance);
            let wanted = secs(&unit, board, Bursts::Followed);
            let found = ratio * secs(&unit, board, Bursts::Settled);
            let off = found / wanted - 1.0;
            println!("{board} {charge} {resistance}: ratio {ratio:.4} off {off:.5}");
            assert!(off.abs() < 5e-3, "{board}: {found} is not {wanted}");
        }
    }
}
