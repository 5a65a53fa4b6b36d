//! What is kept between solutions changes none of them.

use std::collections::BTreeMap;

use lastvolt_core::circuit::{CellDrive, Circuit, Figures};
use lastvolt_core::device::CellModel;
use lastvolt_core::model::{Device, Family, Months, Task, Window};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Temperature, TemperatureDifference};
use lastvolt_core::time::{Bursts, Climate, Life, LifeRequest, Prepared, life};

use crate::brute_boards::family_of;
use crate::kit::usual;
use crate::life::{alkaline, coin, small_cell, step_up, task, with_tasks};

/// One task that is always active and one within a window of some hours a day.
fn tasks() -> Vec<Task> {
    let report = task("report", 5.0, &[(0.012, "sense"), (0.0032, "transmit")]);
    let mut more = task("more", 2.0, &[(0.02, "sense")]);
    more.within = Some(Window {
        every_ns: 86_400_000_000_000,
        open_ns: 20_000_000_000_000,
    });
    vec![report, more]
}

const WARM: Climate = Climate::Steady(Temperature::from_celsius(30.0));

fn request<'a>(family: &'a Family, ambient: Climate<'a>) -> LifeRequest<'a> {
    LifeRequest {
        family,
        board: &family.boards[0].name,
        profile: family.profiles.first().map(|p| p.name.as_str()),
        ambient,
        bursts: Bursts::Followed,
        positions: BTreeMap::new(),
    }
}

/// A life of its own, without the count of what it solved.
fn alone(family: &Family, ambient: Climate) -> Life {
    uncounted(&life(&request(family, ambient), &Silent).expect("a life"))
}

fn uncounted(life: &Life) -> Life {
    Life {
        points_solved: 0,
        ..life.clone()
    }
}

/// Lives of weaker and stronger cells in any order are each what they are alone, to the last digit.
fn assert_same(board: impl Fn(CellModel) -> Family, model: &CellModel, ambient: Climate) {
    let with = |charge: f64, ohms: f64| CellModel {
        charge: crate::kit::exactly(charge * model.charge.si()),
        resistance: model.resistance.map(|_, y| ohms * y),
        ..model.clone()
    };
    let cells = [
        with(1.0, 1.0),
        with(0.8, 4.0),
        with(1.1, 0.5),
        with(0.9, 1.5),
    ];
    let families: Vec<Family> = cells.iter().map(|cell| board(cell.clone())).collect();
    let wanted = families.iter().map(|family| alone(family, ambient));
    let wanted: Vec<Life> = wanted.collect();
    for order in [[0, 1, 2, 3], [3, 2, 1, 0], [1, 0, 3, 2]] {
        let mut prepared = Prepared::new(request(&families[2], ambient));
        for k in order {
            let model = std::slice::from_ref(&cells[k]);
            let found = prepared.life_with(model, &Silent).expect("a life");
            assert_eq!(uncounted(&found), wanted[k], "{order:?} {k}");
        }
        let again = prepared.life(&Silent).expect("a life");
        assert_eq!(uncounted(&again), wanted[2], "{order:?}");
        // Only what is said of the end is solved again.
        assert!(again.points_solved <= 3, "{}", again.points_solved);
    }
}

#[test]
fn law_a_prepared_life_is_the_life_alone() {
    assert_same(
        |model| with_tasks(coin(model), tasks()),
        &small_cell(300.0),
        WARM,
    );
    let one_cell = |model| with_tasks(step_up(model, 1), tasks());
    assert_same(one_cell, &alkaline(800.0), WARM);
}

/// The tables of all temperatures are kept, those between others as well.
#[test]
fn law_a_prepared_life_through_a_calendar_is_the_life_alone() {
    let months = Months {
        celsius: [
            -12.0, -9.0, -3.0, 4.0, 11.0, 16.0, 19.0, 17.0, 12.0, 6.0, -1.0, -8.0,
        ],
        start: 4,
        day_night: TemperatureDifference::from_kelvin(9.0),
    };
    let calendar = Climate::Calendar(&months);
    let report = || vec![task("report", 5.0, &[(0.0032, "transmit")])];
    let one_cell = |model| with_tasks(step_up(model, 1), report());
    assert_same(one_cell, &alkaline(800.0), calendar);
}

/// Bursts are followed anew in every life, whatever was followed before.
#[test]
fn law_a_prepared_life_with_capacitors_is_the_life_alone() {
    for case in ["bypass-220u", "step-up"] {
        let board = family_of(case);
        let parts = &board.boards[0].parts;
        let cell = parts.iter().find_map(|part| match &part.device {
            Device::Cell(cell) => Some(cell.model.clone()),
            _ => None,
        });
        let with_cell = |model: CellModel| {
            let mut board = board.clone();
            for part in &mut board.boards[0].parts {
                if let Device::Cell(cell) = &mut part.device {
                    cell.model = model.clone();
                }
            }
            board
        };
        assert_same(with_cell, &cell.expect("a cell"), WARM);
    }
}

#[test]
fn cells_of_another_voltage_get_tables_of_their_own() {
    let low = with_tasks(step_up(alkaline(800.0), 1), tasks());
    let mut high = alkaline(800.0);
    high.open_circuit = high.open_circuit.map(|_, y| 1.2 * y);
    let wanted = alone(&with_tasks(step_up(high.clone(), 1), tasks()), WARM);
    let mut prepared = Prepared::new(request(&low, WARM));
    prepared.life(&Silent).expect("a life");
    let found = prepared.life_with(&[high], &Silent).expect("a life");
    assert_eq!(uncounted(&found), wanted);
    let back = prepared.life(&Silent).expect("a life");
    assert_eq!(uncounted(&back), alone(&low, WARM));
}

/// A solver that has come from elsewhere finds what a single solution finds.
#[test]
fn a_warm_solver_finds_the_point_that_one_alone_finds() {
    let family = step_up(alkaline(800.0), 1);
    let circuit = Circuit::new(&family, &[family.boards[0].name.clone()]).expect("the board");
    let situation = usual(&family, &[&family.boards[0].name]);
    let mut solver = circuit.solver(situation.clone());
    let mut figures = Figures::default();
    // Down to where the converter stops and up to where it passes its input on.
    for k in (0..36).chain((0..36).rev()) {
        let drive = CellDrive::Terminals(vec![0.2 + 0.1 * f64::from(k)]);
        solver.follow(&drive, &mut figures).expect("a point");
        let point = circuit.solve(&situation, &drive, None).expect("a point");
        for (net, volts) in point.nets.iter().zip(&figures.net_volts) {
            assert!((net.volts - volts).abs() < 1e-9, "{k} {}", net.name);
        }
        for (at, part) in point.parts.iter().enumerate() {
            assert_eq!(part.mode, figures.modes[at], "{k} {}", part.name);
            let off = (part.watts - figures.part_watts[at]).abs();
            assert!(off < 1e-9, "{k} {}: {off:e}", part.name);
            let off = (part.amps - figures.part_amps[at]).abs();
            assert!(off < 1e-9, "{k} {}: {off:e}", part.name);
        }
        for (at, load) in point.loads.iter().enumerate() {
            assert_eq!(load.awake, figures.awake[at]);
            assert!((load.volts - figures.load_volts[at]).abs() < 1e-9);
            assert!((load.watts - figures.load_watts[at]).abs() < 1e-9);
        }
    }
}
