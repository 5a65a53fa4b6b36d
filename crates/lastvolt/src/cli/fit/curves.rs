//! Curves of a fitted model beside what was measured: the plain numbers of the picture.

use lastvolt_core::fit::{At, Drive, Reading, Test, Value, predict};
use lastvolt_core::quantity::{Charge, Time, Voltage};

use super::Job;
use crate::draw::fit::{Axis, Panel, Point};

/// Points of a curve.
const POINTS: usize = 120;
/// Fewest readings that are drawn as a curve.
pub(super) const FEWEST: usize = 3;

/// One panel for each test that has a curve.
pub(super) fn panels(job: &Job<'_>) -> Vec<Panel> {
    let mut panels = Vec::new();
    for (at, test) in job.measured.tests.iter().enumerate() {
        match &test.drive {
            Drive::Log(_) => panels.push(log_panel(job, at, test)),
            Drive::Duty(_) | Drive::Rest => {
                let axes = [Axis::Secs, Axis::Coulombs, Axis::Share, Axis::Depth];
                panels.extend(axes.into_iter().filter_map(|axis| curve(job, test, axis)));
            }
        }
    }
    panels
}

fn log_panel(job: &Job<'_>, at: usize, test: &Test) -> Panel {
    let Drive::Log(log) = &test.drive else {
        return Panel::new(&test.name, Axis::Secs);
    };
    let mut panel = Panel::new(&test.name, Axis::Secs);
    panel.wide = true;
    let own = job.fitted.comparisons.iter().filter(|c| c.test == at);
    for (point, compared) in log.iter().zip(own) {
        let x = point.time.as_secs();
        panel.measured.push(Point {
            x,
            y: compared.measured,
            fitted: compared.fitted,
        });
        panel.said.push((x, compared.said));
    }
    panel
}

/// Where on an axis something was read.
fn place(at: At, axis: Axis) -> Option<f64> {
    match (at, axis) {
        (At::Time(time), Axis::Secs) => Some(time.as_secs()),
        (At::Charge(charge), Axis::Coulombs) => Some(charge.as_coulombs()),
        (At::Share { share, .. }, Axis::Share) => Some(share),
        (At::Depth(depth), Axis::Depth) => Some(depth),
        _ => None,
    }
}

fn at(x: f64, like: At) -> At {
    match like {
        At::Time(_) => At::Time(Time::from_secs(x)),
        At::Charge(_) => At::Charge(Charge::from_coulombs(x)),
        At::Share { end, .. } => At::Share { share: x, end },
        At::Depth(_) => At::Depth(x),
    }
}

/// Voltages on load or at rest over one axis, where there are enough of them.
fn curve(job: &Job<'_>, test: &Test, axis: Axis) -> Option<Panel> {
    let read = |r: &Reading| match r.value {
        Value::Volts { at, volts } | Value::Rest { at, volts } => {
            Some((place(at, axis)?, at, volts.as_volts(), r.fitted))
        }
        _ => None,
    };
    let own: Vec<(f64, At, f64, bool)> = test.readings.iter().filter_map(read).collect();
    if own.len() < FEWEST {
        return None;
    }
    let mut panel = Panel::new(&test.name, axis);
    let points = own.iter().map(|&(x, _, y, fitted)| Point { x, y, fitted });
    panel.measured = points.collect();
    let last = own.iter().map(|o| o.0).fold(0.0, f64::max);
    let low = own.iter().map(|o| o.2).fold(f64::INFINITY, f64::min);
    let volts = Voltage::from_volts(low);
    let rested = matches!(test.drive, Drive::Rest);
    #[expect(clippy::cast_precision_loss, reason = "small counts")]
    let xs: Vec<f64> = (0..=POINTS)
        .map(|k| last * k as f64 / POINTS as f64)
        .collect();
    let readings = xs.iter().map(|&x| {
        let at = at(x, own[0].1);
        Reading {
            value: if rested {
                Value::Rest { at, volts }
            } else {
                Value::Volts { at, volts }
            },
            sigma: 0.01,
            fitted: false,
        }
    });
    let dense = Test {
        readings: readings.collect(),
        ..test.clone()
    };
    let said = predict(&job.fitted.units[test.unit], &dense);
    panel.said = xs.into_iter().zip(said.iter().map(|p| p.value)).collect();
    Some(panel)
}
