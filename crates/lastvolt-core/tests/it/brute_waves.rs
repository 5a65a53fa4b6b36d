//! Waveforms of bursts against those of SUNDIALS (`data/brute.py`), instant by instant.

use lastvolt_core::circuit::{Circuit, Situation};
use lastvolt_core::model::Family;
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::Temperature;
use lastvolt_core::time::{
    Begin, BurstRequest, HappeningKind, Stretch, Waveform, burst, plan_of_tasks,
};

use crate::brute_boards::{
    BOARDS, Sample, SteppedBurst, family_of, stepped_bursts, stepped_wave, stepped_words,
};

/// Largest difference of the rail. The engine holds the error of one step to 20 uV.
const RAIL_VOLTS: f64 = 2e-4;
/// Largest difference of the cell's current.
const CELL_AMPS: f64 = 5e-6;
/// Largest difference of the instant at which a load resets, comes out of it or has booted: the rail
/// falls by 170 V/s as it reaches the reset threshold, so this is what its error comes to.
const WORD_SECS: f64 = 1e-6;

/// What follows from the states of a stepped burst.
fn follow(
    case: &str,
    from: &SteppedBurst,
    plan: impl FnOnce(&Circuit, &Family) -> Vec<Stretch>,
) -> Waveform {
    let family = family_of(case);
    let boards = [family.boards[0].name.clone()];
    let circuit = Circuit::new(&family, &boards).expect("the board is there");
    let mut situation = Situation::usual(&family, &boards, family.profiles.first());
    situation.ambient = Temperature::from_celsius(20.0);
    let series = if case == "up-down" { 2 } else { 1 };
    let request = BurstRequest {
        situation,
        cells: Some(vec![vec![from.cell.clone(); series]]),
        begin: Begin::Settled,
        capacitors: Vec::new(),
        enough_volts: None,
        stretches: plan(&circuit, &family),
    };
    burst(&circuit, &request, &Silent).expect("a waveform")
}

/// One burst of the first task and some rest.
fn first_task(circuit: &Circuit, family: &Family, end_ns: u64) -> Vec<Stretch> {
    let task = &family.profiles[0].tasks[0];
    plan_of_tasks(circuit, &[task], end_ns - task.span_ns())
}

fn nanoseconds(secs: f64) -> u64 {
    (secs * 1e9).round() as u64
}

/// Stretches cut where an instant is wanted, so that nothing has to be interpolated.
fn cut(plan: Vec<Stretch>, instants: &[Sample]) -> Vec<Stretch> {
    let mut parts = Vec::new();
    let mut start = 0;
    for stretch in plan {
        let end = start + stretch.span_ns;
        let inside = instants.iter().map(|s| nanoseconds(s.secs));
        for stop in inside.filter(|ns| *ns < end).chain([end]) {
            if start < stop {
                parts.push(Stretch {
                    span_ns: stop - start,
                    ..stretch.clone()
                });
                start = stop;
            }
        }
    }
    parts
}

fn rail(wave: &Waveform) -> &[f64] {
    let found = wave.nets.iter().find(|(name, _)| name == "VDD");
    &found.expect("the rail").1
}

/// Bursts of a case that have a waveform, with its instants after the burst has begun.
fn waves_of(case: &str) -> impl Iterator<Item = (SteppedBurst, Vec<Sample>)> {
    let bursts = stepped_bursts(case).into_iter();
    let with_wave = bursts.map(move |from| {
        let mut samples = stepped_wave(case, from.share);
        samples.retain(|s| 0.0 < s.secs);
        (from, samples)
    });
    with_wave.filter(|(_, samples)| !samples.is_empty())
}

#[test]
fn ref_sundials_waveforms() {
    let mut looked = 0;
    for board in &BOARDS {
        let case = board.case;
        for (from, mut samples) in waves_of(case) {
            let words = stepped_words(case, from.share);
            // What happens by itself is compared by its instant; the rail jumps there.
            samples.retain(|s| words.iter().all(|w| (w.1 - s.secs).abs() > WORD_SECS));
            let end_ns = samples.last().map_or(0, |s| nanoseconds(s.secs)) + 1;
            let wave = follow(case, &from, |circuit, family| {
                cut(first_task(circuit, family, end_ns), &samples)
            });
            for sample in &samples {
                let later = wave.time_secs.iter();
                let at = later.take_while(|t| **t < sample.secs - 1e-9).count();
                let volts = rail(&wave)[at] - sample.rail_volts;
                let amps = wave.cells[0].1[at] - sample.cell_amps;
                let what = format!("{case} {} at {} s", from.share, sample.secs);
                assert!(volts.abs() <= RAIL_VOLTS, "{what}: off by {volts} V");
                assert!(amps.abs() <= CELL_AMPS, "{what}: off by {amps} A");
                looked += 1;
            }
        }
    }
    assert!(looked > 700, "{looked}");
}

/// Reset, release and the end of the boot come when they were stepped to, and nowhere else.
#[test]
fn ref_sundials_reset_release_and_boot() {
    for board in &BOARDS {
        for (from, samples) in waves_of(board.case) {
            let end_ns = samples.last().map_or(0, |s| nanoseconds(s.secs)) + 1;
            let wave = follow(board.case, &from, |circuit, family| {
                first_task(circuit, family, end_ns)
            });
            let found: Vec<(&str, f64)> = wave
                .happenings
                .iter()
                .map(|h| (word(h.kind), h.time_secs))
                .collect();
            let stepped = stepped_words(board.case, from.share);
            assert_eq!(found.len(), stepped.len(), "{}: {found:?}", board.case);
            for (found, stepped) in found.iter().zip(&stepped) {
                assert_eq!(found.0, stepped.0);
                let off = found.1 - stepped.1;
                assert!(off.abs() <= WORD_SECS, "{}: off by {off} s", found.0);
            }
        }
    }
}

fn word(kind: HappeningKind) -> &'static str {
    match kind {
        HappeningKind::Reset => "reset",
        HappeningKind::Release => "release",
        HappeningKind::Booted => "booted",
        _ => "other",
    }
}

/// The lowest rail of a burst as it came on the way through a life. The capacitors of the life stood
/// where the last burst had left them, which matters for a capacitor slower than the interval only.
#[test]
fn ref_sundials_lowest_of_a_burst() {
    for board in BOARDS.iter().filter(|b| b.case != "supercapacitor") {
        for from in stepped_bursts(board.case) {
            let wave = follow(board.case, &from, |circuit, family| {
                if board.case == "two-tasks" {
                    both_end_at_once()
                } else {
                    first_task(circuit, family, 60_000_000)
                }
            });
            let lowest = wave.lowest.expect("a rail").volts;
            let off = lowest - from.lowest_volts;
            let what = format!("{} {}", board.case, from.share);
            assert!(off.abs() <= RAIL_VOLTS, "{what}: off by {off} V");
        }
    }
}

/// Report (12 ms and 3.2 ms) and measurement (8 ms) of `two-tasks` with a common end.
fn both_end_at_once() -> Vec<Stretch> {
    let set = |load: &str, state: &str| (load.to_owned(), state.to_owned());
    let stretch = |span_ns, states| Stretch {
        states,
        ..Stretch::quiet(span_ns)
    };
    let measure = set("sensor", "measure");
    vec![
        stretch(7_200_000, vec![set("module", "sense")]),
        stretch(4_800_000, vec![set("module", "sense"), measure.clone()]),
        stretch(3_200_000, vec![set("module", "transmit"), measure]),
    ]
}
