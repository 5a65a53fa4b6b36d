//! Tables of boards given by closed forms.

use super::*;
use crate::device::CellModel;
use crate::numerics::table::Table as Curve;
use crate::quantity::{Charge, Spread};

fn model() -> CellModel {
    CellModel::plain(
        Spread::exactly(Charge::from_coulombs(1.0)),
        Curve::constant(3.0),
        Curve::constant(1.0),
    )
}

fn node(volts: f64, watts: f64, mode: Mode) -> Node {
    Node {
        volts,
        source_watts: watts,
        data: vec![watts / 3.0, 2.0 * watts / 3.0, volts],
        powers: 2,
        modes: vec![Some(mode)],
        awake: vec![true],
        stopped: (mode == Mode::Collapsed).then_some(Stopped::Converter(0)),
        unknowns: Vec::new(),
    }
}

fn source(model: &CellModel, volts: f64, ohms: f64) -> Source<'_> {
    Source {
        volts,
        ohms,
        series: 1.0,
        model,
    }
}

/// A constant power meets a cell at V = E/2 + sqrt(E^2/4 - R P), and never past the fold.
#[test]
fn constant_power_is_met_on_the_high_root_up_to_the_fold() {
    let (model, watts) = (model(), 0.06);
    let mut table = Table::new(3.1);
    let mut solved = 0;
    let mut solve = |v: f64, _: Option<&Node>| {
        solved += 1;
        Ok(node(v, watts, Mode::Run))
    };
    for ohms in [1.0, 20.0, 30.0, 36.0, 37.4, 37.499] {
        let found = table.meet(&source(&model, 3.0, ohms), Through::Stops, &mut solve);
        let want = 1.5 + (2.25 - ohms * watts).sqrt();
        match found {
            Ok(Meets::At(meeting)) => {
                let off = meeting.volts - want;
                assert!(off.abs() < 1e-9, "{ohms}: {off:e}");
            }
            _ => panic!("no meeting at {ohms}"),
        }
    }
    // 37.5 ohm is the fold; past it the lowest excess is sqrt(4 R P) - E.
    match table.meet(&source(&model, 3.0, 38.0), Through::Stops, &mut solve) {
        Ok(Meets::Never(short, Stopped::Cell)) => {
            let want = (4.0 * 38.0 * watts).sqrt() - 3.0;
            assert!((short - want).abs() < 1e-4, "{short} {want}");
        }
        _ => panic!("a meeting past the fold"),
    }
    assert!(solved < 60, "{solved}");
}

/// Lines add up to the power of the cell between the points too.
#[test]
fn law_lines_add_up_everywhere() {
    let model = model();
    let mut table = Table::new(3.3);
    let mut solve = |v: f64, _: Option<&Node>| Ok(node(v, 1e-6 * libm::exp(2.0 * v), Mode::Run));
    let mut out = Vec::new();
    for k in 0..200 {
        let from = source(&model, 1.0 + 0.01 * f64::from(k), 5.0);
        let Ok(Meets::At(meeting)) = table.meet(&from, Through::Stops, &mut solve) else {
            panic!("no meeting");
        };
        table.read(&meeting, Wanted::Powers, &mut out);
        table.read(&meeting, Wanted::Rails, &mut out);
        let watts = meeting.volts * meeting.amps;
        assert!((out[0] + out[1] - watts).abs() < 1e-14 * watts.abs().max(1.0));
        assert!((out[2] - meeting.volts).abs() < 1e-12);
        let exact = 1e-6 * libm::exp(2.0 * meeting.volts);
        assert!((watts / exact - 1.0).abs() < 1e-5);
    }
}

#[test]
fn a_converter_that_falls_off_stops_the_board_and_a_change_of_mode_does_not() {
    let model = model();
    let mut table = Table::new(3.1);
    let mut solve = |v: f64, _: Option<&Node>| {
        Ok(match v {
            v if v < 1.234_567 => node(v, 1e-9, Mode::Collapsed),
            v if v < 2.345_678 => node(v, 0.01 + 0.02 * (2.345_678 - v), Mode::Run),
            v => node(v, 0.01, Mode::Pass),
        })
    };
    let mut volts = |open: f64, ohms: f64| match table.meet(
        &source(&model, open, ohms),
        Through::Stops,
        &mut solve,
    ) {
        Ok(Meets::At(meeting)) => Ok(meeting.volts),
        Ok(Meets::Never(_, what)) => Err(what),
        Err(_) => panic!("no point"),
    };
    assert!((volts(3.0, 0.0).expect("runs") - 3.0).abs() < 1e-12);
    let kink = volts(2.3, 1.0).expect("runs");
    assert!((kink + (0.01 + 0.02 * (2.345_678 - kink)) / kink - 2.3).abs() < 1e-6);
    assert!(volts(1.27, 1.0).is_ok());
    assert_eq!(volts(1.25, 1.0), Err(Stopped::Converter(0)));
    assert_eq!(volts(1.1, 0.0), Err(Stopped::Converter(0)));
}

#[test]
fn a_board_that_pushes_current_back_is_met_above_the_open_cell() {
    let model = model();
    let mut table = Table::new(3.2);
    // A source of 3.1 V behind 10 ohm.
    let mut solve = |v: f64, _: Option<&Node>| Ok(node(v, v * (v - 3.1) / 10.0, Mode::Run));
    match table.meet(&source(&model, 2.0, 10.0), Through::Stops, &mut solve) {
        Ok(Meets::At(meeting)) => {
            assert!((meeting.volts - 2.55).abs() < 1e-9);
            assert!((meeting.amps + 0.055).abs() < 1e-9);
        }
        _ => panic!("no meeting"),
    }
}
