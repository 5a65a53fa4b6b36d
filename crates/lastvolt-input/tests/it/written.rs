//! A cell model that is written as text reads back as the same cell.

use lastvolt_core::device::CellModel;
use lastvolt_core::model::{Device, Kind};
use lastvolt_input::written::{cell_text, quote};
use lastvolt_input::{Text, catalog, family_models};

fn read_back(text: &str) -> CellModel {
    let file = Text {
        name: "cell.toml".to_owned(),
        text: text.to_owned(),
    };
    let models = family_models(&[file]);
    match models.into_iter().next().and_then(|m| m.device) {
        Some(Device::Cell(cell)) => cell.model,
        other => panic!("no cell: {other:?} from\n{text}"),
    }
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 6e-4 * a.abs().max(1e-12)
}

#[test]
fn every_cell_of_the_catalog_reads_back() {
    let cells = catalog().into_iter().filter(|e| e.kind == Kind::Cell);
    let mut seen = 0;
    for entry in cells {
        let Some(Device::Cell(cell)) = entry.device else {
            panic!("{} makes no cell", entry.name);
        };
        let head = [("source", quote("a \"test\" \\ of\ttext"))];
        let back = read_back(&cell_text("again-1", &head, &cell.model));
        let was = &cell.model;
        assert!(close(was.charge.si(), back.charge.si()), "{}", entry.name);
        for x in [0.0, 0.3, 0.77, 0.99] {
            assert!((was.open_circuit.at(x) - back.open_circuit.at(x)).abs() < 1e-3);
            assert!(close(was.resistance.at(x), back.resistance.at(x)));
        }
        for celsius in [-30.0, 0.0, 20.0, 50.0] {
            assert!(close(was.rate_per_sec(celsius), back.rate_per_sec(celsius)));
            assert!((was.shift_volts(celsius) - back.shift_volts(celsius)).abs() < 1e-4);
            for n in 0..was.polarisation.len() {
                let (a, b) = (was.branch_ratio(n, celsius), back.branch_ratio(n, celsius));
                assert!((a / b - 1.0).abs() < 3e-3, "{}", entry.name);
            }
        }
        assert_eq!(was.film.is_some(), back.film.is_some());
        assert!(close(was.ageing.as_per_sec(), back.ageing.as_per_sec()));
        assert!(close(
            was.self_discharge.as_per_sec(),
            back.self_discharge.as_per_sec()
        ));
        assert_eq!(was.spread, back.spread);
        assert_eq!(was.limits, back.limits, "{}", entry.name);
        assert_eq!((was.charging, was.button), (back.charging, back.button));
        assert_eq!(was.shelf_life.is_some(), back.shelf_life.is_some());
        seen += 1;
    }
    assert!(seen >= 6);
}

#[test]
fn a_name_that_is_no_bare_key_is_quoted() {
    let entry = catalog().into_iter().find(|e| e.name == "LR6");
    let Some(Device::Cell(cell)) = entry.and_then(|e| e.device) else {
        panic!("LR6 is there");
    };
    let text = cell_text("my \"cell\"", &[], &cell.model);
    assert!(text.starts_with("[models.\"my \\\"cell\\\"\"]\n"), "{text}");
    let _ = read_back(&text);
}
