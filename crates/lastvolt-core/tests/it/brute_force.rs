//! Lives and voltages against every burst stepped by SUNDIALS (`data/brute.py`, scikit-sundae 1.2;
//! values beside it).
//!
//! Each test goes through all boards: with capacitors small and large, beside the cell and behind
//! regulators.

use lastvolt_core::circuit::{CellDrive, Circuit, Situation};
use lastvolt_core::numerics::table::Table;
use lastvolt_core::quantity::Temperature;
use lastvolt_core::time::{Life, Trace};

use crate::brute_boards::{
    BOARDS, Sample, SteppedLife, family_of, full_size_coin, full_size_steps, stepped_bursts,
    stepped_life, stepped_wave,
};
use crate::life::live;
use crate::netlist::assert_close;

/// Largest share of a life by which it may differ from the stepped one.
const LIFE_SHARE: f64 = 0.005;
/// Largest difference of the lowest rail voltage at the same depth.
const LOWEST_VOLTS: f64 = 5e-3;
/// Samples of a trace that are nearer in depth than this tell what lies between them.
const DENSE_DEPTH: f64 = 0.05;
/// Depths this near to a sample have its voltage to within some millivolts.
const SAME_DEPTH: f64 = 2e-4;
/// Most operating points for a life.
const MOST_POINTS: usize = 2000;

/// A life beside the stepped one.
struct Compared {
    found: Life,
    stepped: SteppedLife,
    secs: f64,
    /// By which share it differs.
    share: f64,
}

fn compared(case: &str) -> Compared {
    let (found, stepped) = (live(&family_of(case)), stepped_life(case));
    let secs = found.life_secs.expect("it ends");
    Compared {
        share: secs / stepped.secs - 1.0,
        found,
        stepped,
        secs,
    }
}

impl Compared {
    /// Within the share that is asked for, and within the error that is stated.
    fn agrees(&self) -> bool {
        let missed = (self.secs - self.stepped.secs).abs();
        self.share.abs() <= LIFE_SHARE && missed <= self.found.error_secs
    }

    fn says(&self, case: &str) -> String {
        format!(
            "{case}: {} against {}, {:+.5}, with an error of {}",
            self.secs, self.stepped.secs, self.share, self.found.error_secs
        )
    }
}

/// The lowest rail voltage of a life at a depth, where its trace is dense enough to tell.
fn lowest_at(trace: &Trace, depth: f64) -> Option<f64> {
    let next = trace.depth.partition_point(|&d| d <= depth);
    let (from, to) = (trace.depth.get(next - 1)?, trace.depth.get(next)?);
    let is_near = depth - from < SAME_DEPTH || to - depth < SAME_DEPTH || to - from < DENSE_DEPTH;
    let mut points: Vec<(f64, f64)> = Vec::new();
    for (&depth, &volts) in trace.depth.iter().zip(&trace.rail.lowest_volts) {
        if points.last().is_none_or(|last| depth > last.0 + 1e-9) {
            points.push((depth, volts));
        }
    }
    is_near.then(|| Table::new(&points).expect("rising").at(depth))
}

/// The most by which the lowest rail voltage on the way differs from the stepped one; none where
/// there is nothing to compare.
fn lowest_off(case: &str) -> Option<f64> {
    let found = live(&family_of(case));
    let bursts = stepped_bursts(case).into_iter();
    let each = bursts.filter(|burst| burst.share != "reset");
    let each = each.filter_map(|burst| {
        let volts = lowest_at(&found.trace, burst.cell.depth)?;
        Some((volts - burst.lowest_volts).abs())
    });
    each.reduce(f64::max)
}

#[test]
fn ref_sundials_lives() {
    for case in BOARDS.iter().map(|b| b.case) {
        let life = compared(case);
        assert!(life.agrees(), "{}", life.says(case));
        let (end, stepped) = (&life.found.end, &life.stepped);
        assert_eq!(end.cause.word(), stepped.cause, "{case}");
        // How deep the cell is, and what it has given.
        assert_close(end.depth, stepped.depth, LIFE_SHARE);
        let given = life.found.mean_cell_amps * life.secs;
        assert_close(given, stepped.coulombs, LIFE_SHARE);
    }
}

#[test]
fn ref_sundials_lowest_rail() {
    for case in BOARDS.iter().map(|b| b.case) {
        let volts = lowest_off(case).expect("bursts to compare");
        assert!(volts <= LOWEST_VOLTS, "{case}: off by {volts}");
    }
}

/// Points solved and steps of the bursts that are followed; a waveform of one takes 35 to 70 steps.
fn work(life: &Life) -> f64 {
    (life.points_solved + 100 * life.bursts_followed) as f64
}

#[test]
fn few_points_are_solved_for_a_life() {
    for board in &BOARDS {
        let found = live(&(board.family)());
        let case = board.case;
        assert!(
            found.points_solved <= MOST_POINTS,
            "{case}: {} points",
            found.points_solved
        );
        // The cells are small: a full one lives a thousand times as long on the same work.
        let ratio = stepped_life(case).steps / work(&found);
        assert!(
            ratio > 100.0,
            "{case}: stepping takes {ratio} times as many"
        );
    }
    let found = live(&full_size_coin());
    assert!(found.points_solved <= MOST_POINTS);
    let ratio = full_size_steps() / work(&found);
    assert!(
        ratio > 1e5,
        "full size: stepping takes {ratio} times as many"
    );
}

/// Between bursts every waveform starts from the operating point of its cell.
#[test]
fn ref_sundials_rest_before_a_burst() {
    let mut looked = 0;
    for board in &BOARDS {
        let family = (board.family)();
        for burst in stepped_bursts(board.case) {
            let wave = stepped_wave(board.case, burst.share);
            let Some(rest) = wave.first() else { continue };
            let boards = [family.boards[0].name.clone()];
            let circuit = Circuit::new(&family, &boards).expect("the board is there");
            let mut situation = Situation::usual(&family, &boards, family.profiles.first());
            situation.ambient = Temperature::from_celsius(20.0);
            let series = if board.case == "up-down" { 2 } else { 1 };
            let drive = CellDrive::States(vec![vec![burst.cell.clone(); series]]);
            let point = circuit.solve(&situation, &drive, None).expect("a point");
            assert_rests(board.case, *rest, &point);
            looked += 1;
        }
    }
    assert_eq!(looked, 2 * BOARDS.len() + 1);
}

#[track_caller]
fn assert_rests(case: &str, rest: Sample, point: &lastvolt_core::circuit::Point) {
    let rail = point.net("VDD").expect("the rail");
    let amps = point.part("BT1").expect("the cell").amps;
    assert!(rest.secs < 0.0);
    assert!((rail - rest.rail_volts).abs() < 1e-6, "{case}: {rail}");
    assert!(
        (amps - rest.cell_amps).abs() < 1e-8 + 1e-4 * amps,
        "{case}: {amps} against {}",
        rest.cell_amps
    );
}
