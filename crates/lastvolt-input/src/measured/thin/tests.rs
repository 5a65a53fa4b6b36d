//! Thinning keeps charge, load steps and knees.

use super::*;

fn row(secs: f64, volts: f64, amps: f64) -> Row {
    Row {
        at: 0,
        secs,
        volts,
        amps,
    }
}

fn charge_of_rows(rows: &[Row]) -> f64 {
    let pairs = rows.windows(2);
    pairs
        .map(|w| flow(&w[0], &w[1]) * (w[1].secs - w[0].secs))
        .sum()
}

fn charge_of_points(points: &[LogPoint]) -> f64 {
    let pairs = points.windows(2);
    pairs
        .map(|w| w[0].amps.as_amps() * (w[1].time.as_secs() - w[0].time.as_secs()))
        .sum()
}

/// Voltage of the thinned log at a time.
fn volts_at(points: &[LogPoint], secs: f64) -> f64 {
    let after = points.partition_point(|p| p.time.as_secs() <= secs);
    let to = after.clamp(1, points.len() - 1);
    let (a, b) = (&points[to - 1], &points[to]);
    let share = (secs - a.time.as_secs()) / (b.time.as_secs() - a.time.as_secs());
    a.volts.as_volts() + share * (b.volts.as_volts() - a.volts.as_volts())
}

#[test]
fn law_charge_is_kept_and_every_row_lies_near_the_line() {
    let rows: Vec<Row> = (0..20_000)
        .map(|k| {
            let depth = f64::from(k) / 20_000.0;
            let volts = 3.0 - 0.2 * depth - 0.9 * depth.powi(40);
            row(7.0 + f64::from(k) * 10.0, volts, volts / 15_000.0)
        })
        .collect();
    let thinned = thin(&rows);
    let n = thinned.points.len();
    assert!((5..200).contains(&n), "{n} points");
    let (before, after) = (charge_of_rows(&rows), charge_of_points(&thinned.points));
    assert!((after / before - 1.0).abs() < 1e-12, "{before} {after}");
    for row in &rows {
        let off = volts_at(&thinned.points, row.secs - 7.0) - row.volts;
        assert!(
            off.abs() < 2.0 * thinned.within_volts,
            "{off} at {}",
            row.secs
        );
    }
    assert_eq!(thinned.points[0].time.as_secs(), 0.0);
}

#[test]
fn load_steps_stay_where_they_are() {
    let rows: Vec<Row> = (0..1000)
        .map(|k| {
            let on = (300..600).contains(&k);
            // The step hardly shows in the voltage: the current alone must keep it.
            row(
                f64::from(k),
                if on { 2.9995 } else { 3.0 },
                if on { 0.01 } else { 0.001 },
            )
        })
        .collect();
    let points = thin(&rows).points;
    let steps: Vec<(f64, f64)> = points
        .iter()
        .map(|p| (p.time.as_secs(), p.amps.as_amps()))
        .collect();
    let at = |secs: f64| steps.iter().find(|s| s.0 == secs).map(|s| s.1);
    assert!(points.len() < 10, "{steps:?}");
    assert!(
        at(300.0).is_some_and(|a| (a - 0.01).abs() < 1e-9),
        "{steps:?}"
    );
    assert!(
        at(600.0).is_some_and(|a| (a - 0.001).abs() < 1e-9),
        "{steps:?}"
    );
}

/// 3,000 pulses of 5 s each minute, a row each second.
fn train() -> Vec<Row> {
    (0..180_000)
        .map(|k| {
            let on = k % 60 < 5;
            let rest = 3.0 - f64::from(k) * 2e-6;
            row(
                f64::from(k),
                rest - if on { 0.2 } else { 0.0 },
                if on { 0.01 } else { 0.0 },
            )
        })
        .collect()
}

#[test]
fn a_long_pulse_train_keeps_whole_periods_and_all_charge() {
    let rows = train();
    let thinned = thin(&rows);
    assert!(thinned.points.len() <= MOST, "{}", thinned.points.len());
    assert!(thinned.one_period_in > 1);
    let (before, after) = (charge_of_rows(&rows), charge_of_points(&thinned.points));
    assert!((after / before - 1.0).abs() < 1e-9, "{before} {after}");
    let loaded = |p: &&LogPoint| (p.amps.as_amps() - 0.01).abs() < 1e-9;
    let whole = thinned.points.iter().filter(loaded).count();
    assert!(whole >= 200, "{whole} pulses stay");
    // A merged run lies on the line of the mean current: 20 ohm times 10 mA for 5 s in 60.
    let merged = |p: &&LogPoint| (p.amps.as_amps() - 0.01 / 12.0).abs() < 1e-5;
    let mut n_merged = 0;
    for point in thinned.points.iter().filter(merged) {
        let expected = 3.0 - point.time.as_secs() * 2e-6 - 0.2 / 12.0;
        let off = point.volts.as_volts() - expected;
        // Half a second at each edge of a pulse, and half a period of the slope.
        assert!(off.abs() < 3e-3, "{off}");
        n_merged += 1;
    }
    assert!(n_merged > 100, "{n_merged}");
}

#[test]
fn steps_without_a_period_are_told_by_a_wide_tolerance() {
    let mut state = 12_345_u32;
    let rows: Vec<Row> = (0..30_000)
        .map(|k| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(state >> 8) / f64::from(1 << 24);
            row(f64::from(k), 3.0 + 0.1 * noise, 0.01 + 0.001 * noise)
        })
        .collect();
    let thinned = thin(&rows);
    assert!(thinned.points.len() <= MOST);
    assert!(thinned.within_volts > 0.01, "{}", thinned.within_volts);
}
