//! Waveforms against closed forms, and what happens by itself on the way.

use lastvolt_core::circuit::{Circuit, Situation};
use lastvolt_core::device::{Capacitor, Setpoint, Topology};
use lastvolt_core::model::{BootStep, Family, Load, Profile, Reset, Step, Task};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Current, Time, Voltage};
use lastvolt_core::time::{
    Begin, BurstRequest, Change, Closely, HappeningKind, NoWave, Occasion, Question, Stretch,
    Waveform, burst, deepest_task, plan_of_tasks,
};

use crate::kit;
use crate::netlist::{Netlist, ohms, plain_capacitor, plain_cell, volts};

const MS: u64 = 1_000_000;

fn capacitor(farads: f64, series_ohms: f64) -> Capacitor {
    Capacitor {
        series_resistance: ohms(series_ohms),
        ..plain_capacitor(farads)
    }
}

/// A module that sleeps without any current and sends.
fn module(send_amps: f64) -> Load {
    kit::current_load(&[("sleep", 0.0), ("send", send_amps)])
}

fn send(span_ns: u64) -> Stretch {
    Stretch {
        states: vec![("module".to_owned(), "send".to_owned())],
        ..Stretch::quiet(span_ns)
    }
}

fn follow(family: &Family, begin: Begin, stretches: Vec<Stretch>) -> Result<Waveform, NoWave> {
    let names = [family.boards[0].name.clone()];
    let circuit = Circuit::new(family, &names).expect("the board is there");
    let request = BurstRequest {
        situation: Situation::usual(family, &names, None),
        cells: None,
        begin,
        capacitors: Vec::new(),
        enough_volts: None,
        stretches,
    };
    burst(&circuit, &request, &Silent)
}

fn net<'w>(wave: &'w Waveform, name: &str) -> &'w [f64] {
    let found = wave.nets.iter().find(|(n, _)| n == name);
    &found.expect("the net is there").1
}

/// Largest distance of a net from a closed form at the instants after `from`.
fn distance(wave: &Waveform, name: &str, from: f64, form: impl Fn(f64) -> f64) -> f64 {
    let instants = wave.time_secs.iter().zip(net(wave, name));
    let later = instants.filter(|(t, _)| **t > from);
    later.fold(0.0, |most, (t, v)| f64::max(most, (v - form(*t)).abs()))
}

/// v = E - R I (1 - e^(-t/tau)) - Rs I e^(-t/tau) R/(R + Rs), tau = (R + Rs) C.
#[test]
fn ref_closed_form_bypass_carries_the_start_of_a_burst() {
    let board = Netlist::new("coin")
        .cell("BT1", plain_cell(3.0, 20.0), 1, "VDD")
        .capacitor("C1", capacitor(100e-6, 0.5), "VDD", "GND")
        .board();
    let family = kit::family(vec![board], vec![module(0.03)]);
    let wave = follow(
        &family,
        Begin::Settled,
        vec![send(5 * MS), Stretch::quiet(20 * MS)],
    );
    let wave = wave.expect("a waveform");
    let (e, r, rs, c, i) = (3.0, 20.0, 0.5, 100e-6, 0.03);
    let tau = (r + rs) * c;
    let drop = |t: f64| {
        let left = libm::exp(-t / tau);
        r * i * (1.0 - left) + rs * i * left * r / (r + rs)
    };
    let form = |t: f64| {
        if t <= 5e-3 {
            e - drop(t)
        } else {
            e - drop(t) + drop(t - 5e-3)
        }
    };
    // At the second edge itself both sides are kept; the form has one.
    let off = distance(&wave, "VDD", 0.0, |t| {
        if t == 5e-3 { f64::NAN } else { form(t) }
    });
    assert!(off < 1e-4, "{off}");
    let lowest = wave.lowest.expect("a rail");
    assert!((lowest.volts - form(5e-3)).abs() < 1e-4, "{lowest:?}");
    assert!((lowest.time_secs - 5e-3).abs() < 1e-12);
    // 1 % of 3 V: drop falls from 0.55 V with tau.
    let expected =
        tau * libm::log(
            (r * i - rs * i * r / (r + rs)) / r / i * (libm::exp(5e-3 / tau) - 1.0) * r * i / 0.03,
        ) - 5e-3;
    let recovery = wave.recovery_secs.expect("it recovers");
    assert!(
        (recovery / expected - 1.0).abs() < 0.02,
        "{recovery} {expected}"
    );
    assert!(wave.time_secs.windows(2).all(|w| w[0] <= w[1]));
}

/// Series resonance of supply resistance, cable inductance and input capacitor.
#[test]
fn ref_closed_form_plugging_in_overshoots() {
    let (r, l, c) = (0.5, 4.7e-6, 10e-6);
    let board = Netlist::new("usb")
        .supply("J1", 5.0, r, "IN")
        .inductor("L1", 0.0, "IN", "VDD")
        .capacitor("C1", capacitor(c, 1e-3), "VDD", "GND")
        .board();
    let family = kit::family(vec![board], vec![module(0.0)]);
    let wave = follow(&family, Begin::Discharged, vec![Stretch::quiet(MS)]).expect("a waveform");
    // The series resistance of the capacitor belongs to the loop.
    let (alpha, w0) = ((r + 1e-3) / (2.0 * l), 1.0 / (l * c).sqrt());
    let w = (w0 * w0 - alpha * alpha).sqrt();
    let rings = |t: f64| libm::exp(-alpha * t) * (libm::cos(w * t) + alpha / w * libm::sin(w * t));
    let amps = |t: f64| 5.0 / (l * w) * libm::exp(-alpha * t) * libm::sin(w * t);
    // A supply takes nothing back: the form holds until the current would turn.
    let half = std::f64::consts::PI / w;
    let form = |t: f64| 5.0 * (1.0 - rings(t)) + 1e-3 * amps(t);
    let instants = wave.time_secs.iter().zip(net(&wave, "VDD"));
    let first = instants.filter(|(t, _)| **t > 0.0 && **t < half);
    let off = first.fold(0.0_f64, |most, (t, v)| most.max((v - form(*t)).abs()));
    assert!(off < 2e-3, "{off}");
    let top = net(&wave, "VDD").iter().fold(0.0_f64, |m, v| m.max(*v));
    assert!((top - form(half)).abs() < 5e-3, "{top} {}", form(half));
    let peak = wave.inrush.expect("it starts").peak_amps;
    let at = libm::atan2(w, alpha) / w;
    assert!((peak / amps(at) - 1.0).abs() < 2e-3, "{peak} {}", amps(at));
}

/// Both roots of the loop at 1/t: the dip is I t/C e^(-t/t_r), deepest after t_r.
#[test]
fn a_linear_regulator_answers_with_both_roots_at_its_response() {
    let mut device = kit::regulator(Topology::Linear, Setpoint::Output(volts(3.0)));
    device.response = Some(Time::from_secs(40e-6));
    let board = Netlist::new("ldo")
        .supply("J1", 5.0, 0.01, "IN")
        .regulator(
            "U1",
            device,
            &[("in", "IN"), ("out", "VDD"), ("gnd", "GND")],
        )
        .capacitor("C1", capacitor(10e-6, 1e-3), "VDD", "GND")
        .board();
    let family = kit::family(vec![board], vec![module(0.1)]);
    let wave = follow(&family, Begin::Settled, vec![send(2 * MS)]).expect("a waveform");
    let dip = |t: f64| 0.1 * t / 10e-6 * libm::exp(-t / 40e-6);
    let off = distance(&wave, "VDD", 0.0, |t| 3.0 - dip(t));
    // What is left are the 0.1 mV of the capacitor's series resistance.
    assert!(off < 2.5e-4, "{off}");
    let lowest = wave.lowest.expect("a rail");
    assert!(
        (lowest.volts - (3.0 - dip(40e-6))).abs() < 2.5e-4,
        "{lowest:?}"
    );
}

fn with_reset(mut load: Load, boot: &[(f64, f64)]) -> Load {
    load.reset = Some(Reset {
        below: Voltage::from_volts(1.7),
        release: Voltage::from_volts(1.9),
        boot: boot
            .iter()
            .map(|&(secs, amps)| BootStep {
                span: Time::from_secs(secs),
                current: Current::from_amps(amps),
            })
            .collect(),
    });
    load
}

/// The cell cannot carry the boot: it resets the load, recovers and resets it again.
#[test]
fn a_boot_that_pulls_the_rail_under_is_recognised_as_hiccup() {
    let board = Netlist::new("tired")
        .cell("BT1", plain_cell(2.6, 120.0), 1, "VDD")
        .capacitor("C1", capacitor(10e-6, 0.01), "VDD", "GND")
        .board();
    let family = kit::family(
        vec![board],
        vec![with_reset(module(0.01), &[(0.03, 0.009)])],
    );
    let wave = follow(&family, Begin::Discharged, vec![Stretch::quiet(2000 * MS)]);
    let wave = wave.expect("a waveform");
    let hiccup = wave.hiccup.expect("it repeats");
    // Fall from 1.9 to 1.7 V under 9 mA, then back under none, with tau = 1.2 ms: closed form.
    let tau = 120.01 * 10e-6;
    let (low, rest) = (2.6 - 120.0 * 0.009, 2.6);
    // The divider of cell and series resistance moves the rail by 0.09 mV at the jumps.
    let fall = tau * libm::log((1.9 - low) / (1.7 - low));
    let rise = tau * libm::log((rest - 1.7) / (rest - 1.9));
    let share = hiccup.period_secs / (fall + rise);
    assert!((share - 1.0).abs() < 2e-3, "{share}");
    assert!(wave.good_secs.is_none());
    let end = *wave.time_secs.last().expect("instants");
    assert!(
        end < 0.1,
        "it stops where it repeats: {end} {:?}",
        &wave.happenings[..wave.happenings.len().min(20)]
    );
}

#[test]
fn a_load_resets_recovers_and_boots() {
    let board = Netlist::new("worn")
        .cell("BT1", plain_cell(2.6, 100.0), 1, "VDD")
        .capacitor("C1", capacitor(10e-6, 0.01), "VDD", "GND")
        .board();
    let family = kit::family(
        vec![board],
        vec![with_reset(module(0.012), &[(0.01, 0.004)])],
    );
    let plan = vec![send(3 * MS), Stretch::quiet(100 * MS)];
    let wave = follow(&family, Begin::Settled, plan).expect("a waveform");
    let kinds: Vec<HappeningKind> = wave.happenings.iter().map(|h| h.kind).collect();
    use HappeningKind::{Booted, Release, Reset};
    assert_eq!(kinds, [Reset, Release, Booted], "{:?}", wave.happenings);
    let boot = wave.happenings[2].time_secs - wave.happenings[1].time_secs;
    assert!((boot - 0.01).abs() < 1e-9, "{boot}");
    // 2.6 - 1.2 (1 - e^(-t/tau)) reaches 1.7 V.
    let tau = 100.01 * 10e-6;
    let reset = tau * libm::log(1.2 / (1.2 - 0.9));
    let got = wave.happenings[0].time_secs;
    assert!((got / reset - 1.0).abs() < 1e-3, "{got} {reset}");
    assert!(wave.needs.iter().any(lastvolt_core::time::NeedSeen::fails));
}

/// A converter that starts into 1 mA only hangs at a load of 8 mA, and runs once it is up.
#[test]
fn a_converter_hangs_where_its_load_is_more_than_it_starts_into() {
    let board = |start: Vec<(Current, Voltage)>| {
        let mut device = kit::regulator(Topology::Boost, Setpoint::Output(volts(3.0)));
        device.start = start;
        device.limit = Some(crate::netlist::amps(0.5));
        device.pass_diode = Voltage::from_volts(0.3);
        let pins = [("in", "BAT"), ("out", "VDD"), ("gnd", "GND"), ("sw", "LX")];
        Netlist::new("boost")
            .cell("BT1", plain_cell(0.9, 0.5), 1, "BAT")
            .capacitor("C1", capacitor(10e-6, 5e-3), "BAT", "GND")
            .inductor("L1", 0.1, "BAT", "LX")
            .regulator("U1", device, &pins)
            .capacitor("C2", capacitor(22e-6, 5e-3), "VDD", "GND")
            .board()
    };
    let point = |amps, volts| (Current::from_amps(amps), Voltage::from_volts(volts));
    let load = || kit::current_load(&[("sleep", 0.008)]);
    let weak = vec![point(0.001, 0.65), point(0.004, 1.0)];
    let family = kit::family(vec![board(weak)], vec![load()]);
    let wave = follow(&family, Begin::Discharged, vec![Stretch::quiet(200 * MS)]);
    let wave = wave.expect("a waveform");
    assert!(wave.good_secs.is_none(), "{:?}", wave.happenings);
    let strong = vec![point(0.001, 0.65), point(0.05, 0.85)];
    let family = kit::family(vec![board(strong)], vec![load()]);
    let wave = follow(&family, Begin::Discharged, vec![Stretch::quiet(200 * MS)]);
    let wave = wave.expect("a waveform");
    let good = wave.good_secs.expect("it starts");
    assert!(good < 0.05, "{good}");
    let end = *net(&wave, "VDD").last().expect("instants");
    assert!((end - 3.0).abs() < 1e-3, "{end}");
}

/// Quick off and on: the rail falls by the sleep current on the capacitor alone.
#[test]
fn switched_off_for_a_moment_the_rail_decays_slowly() {
    let board = Netlist::new("switched")
        .cell("BT1", plain_cell(3.0, 10.0), 1, "BAT")
        .switch("S1", 0.05, "BAT", "VDD")
        .capacitor("C1", capacitor(100e-6, 0.01), "VDD", "GND")
        .board();
    let family = kit::family(vec![board], vec![kit::current_load(&[("sleep", 10e-6)])]);
    let off = Stretch {
        positions: vec![("S1".to_owned(), "off".to_owned())],
        ..Stretch::quiet(1000 * MS)
    };
    let plan = vec![off, Stretch::quiet(50 * MS)];
    let wave = follow(&family, Begin::Settled, plan).expect("a waveform");
    let lowest = wave.lowest.expect("a rail");
    // 10 uA for 1 s from 100 uF: 0.1 V, from 3 V less the drop of 10 uA over 10.05 ohm.
    let expected = 3.0 - 10e-6 * 10.05 - 0.1;
    assert!((lowest.volts - expected).abs() < 1e-4, "{lowest:?}");
}

fn task(name: &str, every_ns: u64, steps: &[(u64, &str, &str)]) -> Task {
    Task {
        name: name.to_owned(),
        every_ns,
        offset_ns: None,
        within: None,
        steps: steps
            .iter()
            .map(|(span_ns, load, state)| Step {
                span_ns: *span_ns,
                set: vec![((*load).to_owned(), (*state).to_owned())],
            })
            .collect(),
    }
}

/// A cell behind 20 ohm with a capacitor, a radio and a lamp.
fn two_loads(farads: f64) -> Family {
    let board = Netlist::new("coin")
        .cell("BT1", plain_cell(3.0, 20.0), 1, "VDD")
        .capacitor("C1", capacitor(farads, 0.01), "VDD", "GND")
        .board();
    let lamp = Load {
        name: "lamp".to_owned(),
        ..kit::current_load(&[("dark", 0.0), ("lit", 0.005)])
    };
    kit::family(vec![board], vec![module(0.02), lamp])
}

#[test]
fn tasks_on_one_load_wait_for_each_other_and_others_overlap() {
    let family = two_loads(10e-6);
    let circuit = Circuit::new(&family, &["coin".to_owned()]).expect("the board");
    let long = task("long", 1000 * MS, &[(6 * MS, "module", "send")]);
    let short = task("short", 1000 * MS, &[(2 * MS, "module", "send")]);
    let light = task("light", 1000 * MS, &[(4 * MS, "lamp", "lit")]);
    let plan = plan_of_tasks(&circuit, &[&long, &short, &light], 7);
    let seen: Vec<(u64, Vec<&str>)> = plan
        .iter()
        .map(|s| (s.span_ns, s.states.iter().map(|s| s.1.as_str()).collect()))
        .collect();
    let expected = [
        (4 * MS, vec!["send", "lit"]),
        (2 * MS, vec!["send"]),
        (2 * MS, vec!["send"]),
        (7, vec![]),
    ];
    assert_eq!(seen, expected);
}

#[test]
fn the_deepest_task_is_the_one_that_pulls_the_rail_lowest() {
    let family = two_loads(10e-6);
    let names = ["coin".to_owned()];
    let circuit = Circuit::new(&family, &names).expect("the board");
    let situation = Situation::usual(&family, &names, None);
    let mut profile = Profile {
        name: "day".to_owned(),
        base: Vec::new(),
        tasks: vec![
            task("elsewhere", 1000 * MS, &[(MS, "nobody", "send")]),
            task("light", 1000 * MS, &[(90 * MS, "lamp", "lit")]),
            task("call", 1000 * MS, &[(MS, "module", "send")]),
        ],
    };
    let found = |p: &Profile| deepest_task(&circuit, &situation, p).map(|t| t.name.clone());
    assert_eq!(found(&profile).as_deref(), Some("call"));
    profile.tasks.truncate(1);
    assert_eq!(found(&profile), None, "no task sets a load of the board");
}

/// 20 mA from 10 mF behind 20 ohm: 3 ms leave 6 mV, within 1 % of 3 V at once; 300 ms leave 0.31 V,
/// which takes 0.47 s to 30 mV, so four times the task is enough, and its interval may end before.
#[test]
fn a_task_is_followed_until_the_rail_has_recovered_or_it_comes_again() {
    let family = two_loads(10e-3);
    let names = ["coin".to_owned()];
    let circuit = Circuit::new(&family, &names).expect("the board");
    let situation = Situation::usual(&family, &names, None);
    let follow = |span: u64, every: u64| {
        let task = task("call", every * MS, &[(span * MS, "module", "send")]);
        let question = Question {
            circuit: &circuit,
            situation: &situation,
            cells: None,
            occasion: Occasion::Tasks(vec![&task]),
            tail_ns: None,
        };
        question.follow(&Silent).expect("a waveform")
    };
    let end = |span, every| {
        let followed = follow(span, every);
        let end = *followed.wave.time_secs.last().expect("instants");
        (end, followed.wave.recovery_secs.is_some())
    };
    assert_eq!(end(3, 10_000), (0.015, true));
    assert_eq!(end(300, 10_000), (1.5, true));
    assert_eq!(end(300, 400), (0.4, false));
    // 30 ms leave 55.7 mV, which takes 0.124 s to 30 mV: longer than 4 x 30 ms, so 8 times that.
    assert_eq!(end(30, 10_000), (0.99, true));
    let edges = follow(3, 10_000).edges;
    assert_eq!(edges.len(), 2);
    let sends = Change::State("module".to_owned(), "send".to_owned());
    assert_eq!(edges[0].changes, [sends]);
}

/// A stretch that is looked at closely holds the instants that are asked for, straight lines between them
/// lie on the curve, and what comes out at the end is the same within the error of steps.
#[test]
fn a_stretch_is_looked_at_closely() {
    let family = two_loads(1e-3);
    let names = ["coin".to_owned()];
    let circuit = Circuit::new(&family, &names).expect("the board");
    let situation = Situation::usual(&family, &names, None);
    let task = task("call", 10_000 * MS, &[(50 * MS, "module", "send")]);
    let question = Question {
        circuit: &circuit,
        situation: &situation,
        cells: None,
        occasion: Occasion::Tasks(vec![&task]),
        tail_ns: None,
    };
    let closely = Closely {
        from_secs: 0.052,
        to_secs: 0.072,
        steps: 400,
    };
    let plain = question.follow(&Silent).expect("a waveform").wave;
    let close = question.follow_closely(Some(closely), &Silent);
    let close = close.expect("a waveform").wave;
    let (e, r, rs, c, i) = (3.0, 20.0, 0.01, 1e-3, 0.02);
    let tau = (r + rs) * c;
    let drop = |t: f64| {
        let left = libm::exp(-t / tau);
        r * i * (1.0 - left) + rs * i * left * r / (r + rs)
    };
    let form = |t: f64| e - drop(t) + drop(t - 0.05);
    let miss = |wave: &Waveform| {
        let volts = net(wave, "VDD");
        let (mut count, mut most) = (0, 0.0);
        for at in 1..volts.len() {
            let (from, to) = (wave.time_secs[at - 1], wave.time_secs[at]);
            if closely.from_secs <= from && to <= closely.to_secs {
                let straight = f64::midpoint(volts[at - 1], volts[at]);
                count += 1;
                most = f64::max(most, (straight - form(f64::midpoint(from, to))).abs());
            }
        }
        (count, most)
    };
    let (few, coarse) = miss(&plain);
    let (many, fine) = miss(&close);
    assert!(few < 100 && 390 <= many, "{few} {many}");
    // What is left was brought along: each of the few steps before the stretch may be off by 20 uV.
    assert!(fine < 4e-5 && fine < 0.2 * coarse, "{fine} {coarse}");
    let ends = [&plain, &close].map(|w| *net(w, "VDD").last().expect("instants"));
    assert!((ends[0] - ends[1]).abs() < 2e-5, "{ends:?}");
}
