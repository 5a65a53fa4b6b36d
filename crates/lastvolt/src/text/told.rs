//! A waveform in words: what is looked at, what happens when, and what it comes to. Terminal, pictures
//! and report say the same.

use lastvolt_core::circuit::Circuit;
use lastvolt_core::device::Charging;
use lastvolt_core::model::{Device, Load, Task};
use lastvolt_core::quantity::Unit;
use lastvolt_core::time::{Change, Followed, HappeningKind, Lowest, Occasion, Waveform};

use crate::text::number::{duration, figure, listed, solved};

/// A dip that is worth words after a start.
const LEAST_DIP_VOLTS: f64 = 2e-3;
/// Voltages below this are none.
const NO_VOLTS: f64 = 1e-6;
/// Longest sequence of instants that is looked for as coming again, and how often it must.
const LONGEST_ROUND: usize = 8;
const LEAST_ROUNDS: usize = 3;
/// Charge into a cell that is worth a warning; less flows back while capacitors settle.
const LEAST_CHARGED_COULOMBS: f64 = 1e-6;
/// A rail below this is not powered.
const POWERED_VOLTS: f64 = 0.01;
/// A waveform with what is needed to tell it.
pub(crate) struct Told<'a, 'f> {
    pub(crate) circuit: &'a Circuit<'f>,
    pub(crate) occasion: &'a Occasion<'a>,
    pub(crate) followed: &'a Followed,
    /// No task was named: this one was chosen.
    pub(crate) chosen: bool,
}

/// Something that happens at an instant, in words.
struct Moment {
    time_secs: f64,
    words: String,
    /// Schedule or a switch, not by itself.
    is_edge: bool,
}

/// Names of tasks in a sentence.
pub(crate) fn task_names(tasks: &[&Task]) -> String {
    let names: Vec<&str> = tasks.iter().map(|t| t.name.as_str()).collect();
    listed(&names)
}

impl Told<'_, '_> {
    pub(crate) fn wave(&self) -> &Waveform {
        &self.followed.wave
    }

    /// Name of the rail.
    pub(crate) fn rail(&self) -> &str {
        self.wave().rail.as_deref().unwrap_or("the rail")
    }

    fn end_secs(&self) -> f64 {
        self.wave().time_secs.last().copied().unwrap_or(0.0)
    }

    fn last_edge_secs(&self) -> f64 {
        self.wave().edges_secs.last().copied().unwrap_or(0.0)
    }

    /// Volts of a net at the first and last instant.
    fn ends_of(&self, net: &str) -> Option<(f64, f64)> {
        let (_, volts) = self.wave().nets.iter().find(|(name, _)| name == net)?;
        Some((*volts.first()?, *volts.last()?))
    }

    /// The lowest voltage of the rail, unless it is where a rail that is up stands anyway.
    pub(crate) fn telling_lowest(&self) -> Option<&Lowest> {
        let lowest = self.wave().lowest.as_ref()?;
        let end = self.ends_of(&lowest.net)?.1;
        let starts = matches!(self.occasion, Occasion::Start(_));
        let tells = !starts || LEAST_DIP_VOLTS < end - lowest.volts;
        tells.then_some(lowest)
    }

    /// What is looked at, and for how long.
    pub(crate) fn occasion_words(&self) -> String {
        let what = match self.occasion {
            Occasion::Tasks(tasks) if self.chosen => format!(
                "Task {} once, from the settled base state: the task whose steps would pull {} lowest.",
                task_names(tasks),
                self.rail()
            ),
            Occasion::Tasks(tasks) if tasks.len() == 1 => {
                format!(
                    "Task {} once, from the settled base state.",
                    task_names(tasks)
                )
            }
            Occasion::Tasks(tasks) => format!(
                "Tasks {}, due at the same instant, from the settled base state; where they claim the same \
                 load, one after the other.",
                task_names(tasks)
            ),
            Occasion::Start(Some((switch, off))) => {
                format!(
                    "Switching on with {switch}, after everything has settled in its position {off}."
                )
            }
            Occasion::Start(None) => format!(
                "Switching on: {} at 0 s, everything else is discharged before.",
                self.plugged_words()
            ),
            Occasion::Off { switch, span_ns } => {
                #[expect(clippy::cast_precision_loss, reason = "nanoseconds to seconds")]
                let secs = *span_ns as f64 * 1e-9;
                format!(
                    "Running, then {} in position {} for {}, and on again.",
                    switch.0,
                    switch.1,
                    duration(secs)
                )
            }
        };
        let cut = if self.followed.is_cut {
            "; longer would be more instants than are kept"
        } else {
            ""
        };
        format!("{what} Followed for {}{cut}.", duration(self.end_secs()))
    }

    fn plugged_words(&self) -> String {
        let (cells, supplies) = (self.circuit.cell_names(), self.circuit.supply_names());
        let verb = |names: &[String], one: &str, many: &str| match names {
            [] => None,
            [name] => Some(format!("{name} {one}")),
            names => Some(format!("{} {many}", listed(names))),
        };
        let words = [
            verb(&cells, "goes in", "go in"),
            verb(&supplies, "is plugged in", "are plugged in"),
        ];
        let words: Vec<String> = words.into_iter().flatten().collect();
        if words.is_empty() {
            return "no source is there".to_owned();
        }
        listed(&words)
    }

    /// What it comes to, in sentences.
    pub(crate) fn outcome(&self) -> Vec<String> {
        match self.occasion {
            Occasion::Tasks(_) => {
                let rest = self.ends_of(self.rail()).map(|e| e.0);
                if let Some(rest) = rest.filter(|v| *v < POWERED_VOLTS) {
                    let volts = volts_words(rest);
                    let rail = self.rail();
                    return vec![format!(
                        "{rail} stands at {volts}: nothing is powered in this situation."
                    )];
                }
                let mut out = vec![self.lowest_words()];
                match self.hiccup_words() {
                    Some(hiccup) => out.push(hiccup),
                    None => out.push(self.recovery_words()),
                }
                out.extend(self.failed_needs());
                out.retain(|s| !s.is_empty());
                out
            }
            Occasion::Start(_) => self.start_words(),
            Occasion::Off { .. } => {
                let mut out = self.off_words();
                out.extend(self.start_words());
                out
            }
        }
    }

    fn lowest_words(&self) -> String {
        let Some(lowest) = &self.wave().lowest else {
            return String::new();
        };
        let rest = self.ends_of(&lowest.net).map_or(lowest.volts, |e| e.0);
        format!(
            "{} stands at {} before and is lowest at {} with {}, {} lower.",
            lowest.net,
            figure(rest, Unit::Volt),
            duration(lowest.time_secs),
            solved(lowest.volts, Unit::Volt),
            figure((rest - lowest.volts).max(0.0), Unit::Volt),
        )
    }

    fn recovery_words(&self) -> String {
        let after = self.end_secs() - self.last_edge_secs();
        match self.wave().recovery_secs {
            None if self.wave().rail.is_none() => String::new(),
            None => format!(
                "It is not back within 1 % of that {} after the last edge.",
                duration(after)
            ),
            Some(secs) if secs <= 0.0 => {
                "It is within 1 % of that at the last edge already.".to_owned()
            }
            Some(secs) => format!(
                "It is back within 1 % of that {} after the last edge.",
                duration(secs)
            ),
        }
    }

    fn failed_needs(&self) -> Vec<String> {
        let failed = self.wave().needs.iter().filter(|n| n.fails());
        let words = failed.map(|n| {
            format!(
                "{} in {} does not get what it needs, {}, for {}: it is below that, in reset or booting.",
                n.load,
                n.state,
                figure(n.from_volts, Unit::Volt),
                duration(n.below_secs)
            )
        });
        words.collect()
    }

    fn start_words(&self) -> Vec<String> {
        let wave = self.wave();
        let Some(inrush) = &wave.inrush else {
            return Vec::new();
        };
        let edge = self.last_edge_secs();
        let mut out = Vec::new();
        let after = match inrush.peak_secs - edge {
            secs if secs > 0.0 => format!("after {}", duration(secs)),
            _ => "at once".to_owned(),
        };
        let peak = format!(
            "the largest current of all sources is {} {after}",
            figure(inrush.peak_amps, Unit::Ampere)
        );
        let charge = figure(inrush.coulombs, Unit::Coulomb);
        match wave.good_secs {
            Some(good) if good <= edge => {
                let fell = wave.needs.iter().any(|n| n.below_secs > 0.0);
                let stays = matches!(self.occasion, Occasion::Off { .. }) && !fell;
                let words = if stays {
                    "stays up and inside its range"
                } else {
                    "is up and inside its range at once"
                };
                out.push(format!("Every load {words}; {peak}."));
            }
            Some(good) => {
                let since = match self.occasion {
                    Occasion::Off { .. } => "after it is on again",
                    _ => "after switching on",
                };
                out.push(format!(
                    "Every load is up and inside its range {} {since}. Until then the sources give \
                     {charge}; {peak}.",
                    duration(good - edge)
                ));
                if !wave.is_good {
                    out.push("It does not stay so:".to_owned());
                    out.extend(self.why_not());
                }
            }
            None => {
                out.push(format!(
                    "Within the time followed it does not get so far that every load is up and inside its range. The sources give {charge}; {peak}."
                ));
                out.extend(self.why_not());
            }
        }
        if let (Some(lowest), Occasion::Start(_)) = (self.telling_lowest(), self.occasion) {
            out.push(format!(
                "From then on {} is lowest at {} with {}.",
                lowest.net,
                duration(lowest.time_secs),
                solved(lowest.volts, Unit::Volt)
            ));
        }
        out
    }

    /// Whether being off for a moment resets the loads.
    fn off_words(&self) -> Vec<String> {
        let mut out = Vec::new();
        let wave = self.wave();
        let rail = wave.nets.iter().find(|(name, _)| name == self.rail());
        let on = first_at(wave, self.last_edge_secs());
        let off = rail.map(|(_, volts)| &volts[..=on.min(volts.len() - 1)]);
        if let Some(lowest) = off.and_then(|v| v.iter().copied().min_by(f64::total_cmp)) {
            out.push(format!(
                "While it is off {} falls to {}.",
                self.rail(),
                volts_words(lowest)
            ));
        }
        for (name, load) in self.circuit.loads() {
            let Some(reset) = &load.reset else {
                continue;
            };
            let falls = self.wave().happenings.iter();
            let mut falls = falls.filter(|h| h.kind == HappeningKind::Reset && h.name == name);
            let below = figure(reset.below.as_volts(), Unit::Volt);
            out.push(match falls.next() {
                Some(fall) => format!(
                    "{name} resets after {}, below {below}.",
                    duration(fall.time_secs)
                ),
                None => format!("{name} does not reset: it would below {below}."),
            });
        }
        out
    }

    /// Why the loads are not all up and inside their range at the end.
    fn why_not(&self) -> Vec<String> {
        let mut out: Vec<String> = self.hiccup_words().into_iter().collect();
        let repeats = !out.is_empty();
        for (name, part) in self.circuit.parts() {
            if matches!(part.device, Device::Regulator(_)) {
                out.extend(self.regulator_hangs(&name));
            }
        }
        if repeats {
            return out;
        }
        for (name, load) in self.circuit.loads() {
            out.extend(self.load_hangs(&name, load));
        }
        out
    }

    /// What repeats without end.
    fn hiccup_words(&self) -> Option<String> {
        let wave = self.wave();
        let hiccup = wave.hiccup.as_ref()?;
        let from = hiccup.time_secs - hiccup.period_secs * (1.0 + 1e-9);
        let round = wave.happenings.iter().filter(|h| from < h.time_secs);
        let mut words: Vec<String> = round.map(|h| happening_words(h.kind, &h.name)).collect();
        if words.len() > 1 {
            words.remove(0);
        }
        Some(format!(
            "Hiccup: every {} the same comes again: {}.",
            duration(hiccup.period_secs),
            words.join(", ")
        ))
    }

    fn regulator_hangs(&self, name: &str) -> Option<String> {
        let decides = |kind: HappeningKind| {
            use HappeningKind::{Collapses, Off, On, Regulates};
            matches!(kind, Collapses | Off | On | Regulates)
        };
        let mut own = self.wave().happenings.iter();
        let last = own.rfind(|h| h.name == name && decides(h.kind));
        match last.map(|h| (h.kind, h.time_secs)) {
            None if matches!(self.occasion, Occasion::Start(_)) => {
                Some(format!("{name} never comes on."))
            }
            Some((HappeningKind::On, at)) => Some(format!(
                "{name} comes on after {} and hangs: it never reaches its output voltage. Its load takes \
                 more than it starts into, or its input gives too little.",
                duration(at)
            )),
            Some((HappeningKind::Off, at)) => Some(format!(
                "{name} falls off after {} and stays off.",
                duration(at)
            )),
            Some((HappeningKind::Collapses, at)) => Some(format!(
                "{name} falls off after {}: its input cannot give what it asks for.",
                duration(at)
            )),
            _ => None,
        }
    }

    /// The net that feeds a load, under its name in the circuit.
    fn net_of(&self, name: &str, load: &Load) -> String {
        match name.rsplit_once('/') {
            Some((board, _)) if self.ends_of(&load.plus).is_none() => {
                format!("{board}/{}", load.plus)
            }
            _ => load.plus.clone(),
        }
    }

    /// What may harm people or parts on the way: primary cells that are charged, loads that get more
    /// than they survive.
    pub(crate) fn hazards(&self) -> Vec<String> {
        let mut out = Vec::new();
        for (name, part) in self.circuit.parts() {
            let primary =
                matches!(&part.device, Device::Cell(c) if c.model.charging == Charging::Primary);
            let amps = self.wave().cells.iter().find(|c| primary && c.0 == name);
            if let Some(most) = amps.and_then(|(_, amps)| self.charged_with(amps)) {
                out.push(format!(
                    "{name} is charged with up to {}: primary cells that are charged can leak, burst or burn",
                    figure(most, Unit::Ampere)
                ));
            }
        }
        let ground = self.circuit.family().connector.ground_net();
        for (name, load) in self.circuit.loads() {
            let (Some(survives), true) = (load.survives, load.minus == ground) else {
                continue;
            };
            let net = self.net_of(&name, load);
            let volts = self.wave().nets.iter().find(|n| n.0 == net);
            let most = volts.map_or(0.0, |(_, v)| v.iter().copied().fold(0.0, f64::max));
            if survives.as_volts() < most {
                let parts = self.circuit.parts();
                let regulated = parts
                    .iter()
                    .any(|p| matches!(p.1.device, Device::Regulator(_)));
                let soft = if regulated && !matches!(self.occasion, Occasion::Tasks(_)) {
                    "; a regulator with a soft start overshoots less"
                } else {
                    ""
                };
                out.push(format!(
                    "{name} gets up to {}, it survives {}{soft}",
                    volts_words(most),
                    figure(survives.as_volts(), Unit::Volt)
                ));
            }
        }
        out
    }

    /// The largest current that charges a cell, unless next to no charge flows back.
    fn charged_with(&self, amps: &[f64]) -> Option<f64> {
        let back = |w: &[f64]| f64::midpoint(w[0].min(0.0), w[1].min(0.0));
        let spans = self.wave().time_secs.windows(2).map(|t| t[1] - t[0]);
        let coulombs: f64 = spans.zip(amps.windows(2)).map(|(s, w)| -s * back(w)).sum();
        let most = amps.iter().fold(0.0, |m: f64, a| m.max(-a));
        (LEAST_CHARGED_COULOMBS < coulombs).then_some(most)
    }

    fn load_hangs(&self, name: &str, load: &Load) -> Option<String> {
        let net = self.net_of(name, load);
        let volts = self.ends_of(&net)?.1;
        let gets = volts_words(volts);
        let of_load = |kind: HappeningKind| {
            matches!(
                kind,
                HappeningKind::Reset | HappeningKind::Release | HappeningKind::Booted
            )
        };
        let mut own = self.wave().happenings.iter();
        let last = own.rfind(|h| h.name == name && of_load(h.kind));
        let began_up = !matches!(self.occasion, Occasion::Start(_));
        let reset = load.reset.as_ref();
        match (last.map(|h| h.kind), reset) {
            (Some(HappeningKind::Reset), Some(reset)) => Some(reset),
            (None, Some(reset)) if !began_up => Some(reset),
            _ => None,
        }
        .map(|reset| {
            format!(
                "{name} stays in reset: it gets {gets} and comes out at {}.",
                volts_words(reset.release.as_volts())
            )
        })
        .or_else(|| {
            let boots = reset.is_some_and(|r| !r.boot.is_empty());
            let booting = boots && last.map(|h| h.kind) == Some(HappeningKind::Release);
            booting.then(|| format!("{name} is still booting at the end."))
        })
        .or_else(|| {
            let range = load.working_in(0)?;
            let (from, to) = (range.from.as_volts(), range.to.as_volts());
            (volts < from || to < volts).then(|| {
                format!(
                    "{name} gets {gets} and works from {} to {}.",
                    figure(from, Unit::Volt),
                    figure(to, Unit::Volt)
                )
            })
        })
    }

    /// What happens, one line an instant; what comes round again and again is there once, with how
    /// often it does.
    pub(crate) fn lines(&self) -> Vec<Line> {
        lines(&self.moments())
    }

    /// The same of what happens between two instants.
    pub(crate) fn lines_within(&self, (from, to): (f64, f64)) -> Vec<Line> {
        let mut moments = self.moments();
        moments.retain(|m| from <= m.time_secs && m.time_secs <= to);
        lines(&moments)
    }

    /// Everything that happens, by instants.
    fn moments(&self) -> Vec<Moment> {
        let edges = self.followed.edges.iter().map(|edge| Moment {
            time_secs: edge.time_secs,
            words: self.edge_words(&edge.changes),
            is_edge: true,
        });
        let events = self.wave().happenings.iter().map(|h| Moment {
            time_secs: h.time_secs,
            words: happening_words(h.kind, &h.name),
            is_edge: false,
        });
        let mut all: Vec<Moment> = edges.chain(events).collect();
        all.sort_by(|a, b| a.time_secs.total_cmp(&b.time_secs));
        let mut out: Vec<Moment> = Vec::new();
        for moment in all {
            match out.last_mut() {
                Some(last) if last.time_secs == moment.time_secs => {
                    last.words = format!("{}, {}", last.words, moment.words);
                }
                _ => out.push(moment),
            }
        }
        out
    }

    fn edge_words(&self, changes: &[Change]) -> String {
        let words = changes.iter().map(|change| match change {
            Change::PluggedIn => self.plugged_words(),
            Change::State(load, state) => format!("{load} to {state}"),
            Change::Position(switch, position) => format!("{switch} to {position}"),
        });
        words.collect::<Vec<String>>().join(", ")
    }
}

/// Something that happens by itself, in words.
fn happening_words(kind: HappeningKind, name: &str) -> String {
    let what = match kind {
        HappeningKind::Reset => "resets",
        HappeningKind::Release => "comes out of reset",
        HappeningKind::Booted => "has booted",
        HappeningKind::On => "comes on",
        HappeningKind::Off => "falls off",
        HappeningKind::Detects => "pulls its output low",
        HappeningKind::LetsGo => "lets its output go",
        HappeningKind::Passes => "lets its input through",
        HappeningKind::Switches => "switches",
        HappeningKind::Regulates => "regulates",
        HappeningKind::Collapses => "asks for more than its input gives",
    };
    format!("{name} {what}")
}

/// A voltage of a table; what is left by rounding is none.
pub(crate) fn volts_words(volts: f64) -> String {
    if volts.abs() < NO_VOLTS {
        return "0 V".to_owned();
    }
    solved(volts, Unit::Volt)
}

/// The first instant at or after a time.
pub(crate) fn first_at(wave: &Waveform, secs: f64) -> usize {
    wave.time_secs.partition_point(|t| *t < secs)
}

/// The last instant at or before a time.
pub(crate) fn last_at(wave: &Waveform, secs: f64) -> usize {
    let later = wave.time_secs.partition_point(|t| *t <= secs);
    later.saturating_sub(1)
}

/// An instant, or a run of instants that repeat those before it.
pub(crate) struct Line {
    pub(crate) time_secs: f64,
    pub(crate) words: String,
    pub(crate) is_edge: bool,
    /// First instant after the line.
    pub(crate) next_secs: Option<f64>,
}

/// One line an instant; what comes round again and again is shown once, with how often it does.
fn lines(moments: &[Moment]) -> Vec<Line> {
    let mut out = Vec::new();
    let mut at = 0;
    while at < moments.len() {
        let round = (1..=LONGEST_ROUND).find(|&n| rounds(&moments[at..], n) >= LEAST_ROUNDS);
        let own = round.unwrap_or(1);
        let next = |k: usize| moments.get(k).map(|m| m.time_secs);
        for (k, moment) in moments.iter().enumerate().skip(at).take(own) {
            out.push(Line {
                time_secs: moment.time_secs,
                words: moment.words.clone(),
                is_edge: moment.is_edge,
                next_secs: next(k + 1),
            });
        }
        at += own;
        if let Some(round) = round {
            let more = rounds(&moments[at - round..], round) - 1;
            let end = at + more * round;
            out.push(Line {
                time_secs: moments[at].time_secs,
                words: format!(
                    "the same {more} times more, to {}",
                    duration(moments[end - 1].time_secs)
                ),
                is_edge: false,
                next_secs: next(end),
            });
            at = end;
        }
    }
    out
}

/// How often the first `n` instants come again without a break, the first time included.
fn rounds(moments: &[Moment], n: usize) -> usize {
    let same = |k: &usize| {
        let again = &moments[k * n..(k + 1) * n];
        let pairs = again.iter().zip(&moments[..n]);
        pairs.into_iter().all(|(a, b)| a.words == b.words)
    };
    (0..moments.len() / n).take_while(same).count()
}
