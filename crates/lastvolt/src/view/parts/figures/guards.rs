//! The figures of parts that guard and switch: Zener diodes, resettable fuses, detectors, load switches
//! and ideal diodes.

use lastvolt_core::device::{Blocking, Detector, IdealDiode, LoadSwitch, OutputStage, Ptc, Zener};

use super::{FIGURES, Figures, LIMITS, of_diode, of_enable};

pub(super) fn of_zener(f: &mut Figures, zener: &Zener) {
    f.spread(FIGURES, "breakdown", "breakdown voltage", &zener.breakdown);
    f.maybe(FIGURES, "test_current", "at", Some(zener.test_current));
    let ohms = &zener.dynamic_resistance;
    f.spread(FIGURES, "dynamic_resistance", "dynamic resistance", ohms);
    of_diode(f, &zener.junction);
    f.maybe(LIMITS, "rated_power", "power", zener.rated_power);
}

pub(super) fn of_ptc(f: &mut Figures, ptc: &Ptc) {
    let ohms = &ptc.resistance;
    f.spread(FIGURES, "resistance", "before it trips", ohms);
    f.maybe(
        FIGURES,
        "tripped_power",
        "stays tripped by",
        ptc.tripped_power,
    );
    f.maybe(LIMITS, "hold", "holds", ptc.hold);
    f.maybe(LIMITS, "trip", "surely trips at", ptc.trip);
    f.maybe(LIMITS, "rated_voltage", "voltage when tripped", ptc.rated);
}

pub(super) fn of_detector(f: &mut Figures, d: &Detector) {
    f.spread(FIGURES, "threshold", "threshold, falling", &d.threshold);
    f.spread(FIGURES, "hysteresis", "hysteresis", &d.hysteresis);
    let word = match d.output {
        OutputStage::OpenDrain => "open-drain",
        OutputStage::PushPull => "push-pull",
    };
    f.word(FIGURES, "output", "output", word);
    let ohms = &d.output_resistance;
    f.spread(FIGURES, "output_resistance", "output resistance", ohms);
    f.spread(FIGURES, "leakage", "output leakage", &d.leakage);
    f.spread("own current", "quiescent", "from the input", &d.quiescent);
    f.maybe(LIMITS, "works_from", "works from", d.works_from);
    f.maybe(LIMITS, "survives", "survives", d.survives);
}

pub(super) fn of_load_switch(f: &mut Figures, s: &LoadSwitch) {
    f.spread(FIGURES, "on_resistance", "on-resistance", &s.on_resistance);
    f.spread(FIGURES, "leakage", "leakage when off", &s.leakage);
    f.maybe(FIGURES, "leakage_at", "at", s.leakage_at);
    let word = match s.reverse_blocking {
        Blocking::Never => "never",
        Blocking::WhenOff => "when-off",
        Blocking::Always => "always",
    };
    f.word(FIGURES, "reverse_blocking", "blocks the way back", word);
    f.spread("own current", "quiescent", "when on", &s.quiescent);
    f.spread("own current", "shutdown", "when off", &s.shutdown);
    if let Some(limit) = &s.limit {
        f.spread(LIMITS, "limit", "current limit", limit);
    }
    f.maybe(LIMITS, "runs_down_to", "runs down to", Some(s.runs_down_to));
    f.maybe(LIMITS, "survives", "survives", s.survives);
    f.maybe(LIMITS, "rated_current", "current", s.rated);
    of_enable(f, s.enable.as_ref());
}

pub(super) fn of_ideal_diode(f: &mut Figures, d: &IdealDiode) {
    f.spread(FIGURES, "forward", "forward voltage held", &d.forward);
    f.spread(FIGURES, "on_resistance", "on-resistance", &d.on_resistance);
    f.spread(FIGURES, "leakage", "reverse current", &d.leakage);
    f.maybe(FIGURES, "leakage_at", "at", d.leakage_at);
    f.spread("own current", "quiescent", "from the input", &d.quiescent);
    f.maybe(LIMITS, "works_from", "works from", Some(d.works_from));
    f.maybe(LIMITS, "survives", "survives", d.survives);
    f.maybe(LIMITS, "rated_current", "current", d.rated);
}
