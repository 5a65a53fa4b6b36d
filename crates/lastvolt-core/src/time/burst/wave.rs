//! The waveform: what is kept of every instant, and what it comes to.

use crate::circuit::{Circuit, Situation, Transient, Trip};
use crate::device::CellState;
use crate::model::Device;
use crate::time::burst::{Begin, BurstRequest};

/// Voltages and currents over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Waveform {
    /// Instants in seconds, never falling; a jump has the same instant twice.
    pub time_secs: Vec<f64>,
    /// Voltage of every net but ground.
    pub nets: Vec<(String, Vec<f64>)>,
    /// Current that each cell part gives.
    pub cells: Vec<(String, Vec<f64>)>,
    /// Current that each supply gives.
    pub supplies: Vec<(String, Vec<f64>)>,
    /// Net of the main rail: the connector's, or that of the first load.
    pub rail: Option<String>,
    /// The lowest voltage of the rail; when starting, once it has been good.
    pub lowest: Option<Lowest>,
    /// From the last edge until the rail is within 1 % of its rest.
    pub recovery_secs: Option<f64>,
    /// What the sources give until the rail is good; only where something is switched on.
    pub inrush: Option<Inrush>,
    /// When every load is up and inside its working range for the first time after something was
    /// switched last.
    pub good_secs: Option<f64>,
    /// Whether every load is up and inside its working range at the end.
    pub is_good: bool,
    /// Instants at which the schedule or a switch changes something.
    pub edges_secs: Vec<f64>,
    /// What happened by itself.
    pub happenings: Vec<Happening>,
    /// What repeats without end, where something does.
    pub hiccup: Option<Hiccup>,
    /// Whether a converter fell off because its input was too low.
    pub lost_input: bool,
    /// How near each load came to the end of its working range, by state.
    pub needs: Vec<NeedSeen>,
    /// States of the cells at the end.
    pub cells_after: Vec<Vec<CellState>>,
    /// Voltages of the capacitors at the beginning, first to second pin.
    pub capacitors_before: Vec<(String, f64)>,
    /// The same at the end.
    pub capacitors_after: Vec<(String, f64)>,
    /// Newton steps taken.
    pub newton_steps: usize,
}

/// The lowest voltage of a net.
#[derive(Debug, Clone, PartialEq)]
pub struct Lowest {
    /// The net.
    pub net: String,
    /// Its lowest voltage.
    pub volts: f64,
    /// When.
    pub time_secs: f64,
}

/// What a switch-on takes.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Inrush {
    /// Charge that the sources give until the rail is good, or to the end where it never is.
    pub coulombs: f64,
    /// Largest current of all sources together.
    pub peak_amps: f64,
    /// When that flows.
    pub peak_secs: f64,
}

/// One thing that happened by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Happening {
    /// When.
    pub time_secs: f64,
    /// What.
    pub kind: HappeningKind,
    /// Load or part.
    pub name: String,
}

/// What can happen by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HappeningKind {
    /// A load falls into reset.
    Reset,
    /// A load comes out of reset.
    Release,
    /// A load has booted.
    Booted,
    /// A regulator, load switch or ideal diode comes on.
    On,
    /// One falls off.
    Off,
    /// A detector pulls its output low.
    Detects,
    /// A detector lets its output go.
    LetsGo,
    /// A step-up converter lets its input through.
    Passes,
    /// A step-up converter switches.
    Switches,
    /// A regulator reaches its output voltage.
    Regulates,
    /// A converter asks for more than its input can give.
    Collapses,
}

/// A sequence that repeats.
#[derive(Debug, Clone, PartialEq)]
pub struct Hiccup {
    /// Length of one round.
    pub period_secs: f64,
    /// When the repeating was seen.
    pub time_secs: f64,
}

/// How a load fared in one of its states.
#[derive(Debug, Clone, PartialEq)]
pub struct NeedSeen {
    /// The load.
    pub load: String,
    /// Its state.
    pub state: String,
    /// Lowest voltage at which it works in this state.
    pub from_volts: f64,
    /// Highest voltage at which it works in this state.
    pub to_volts: f64,
    /// The lowest it saw.
    pub lowest_volts: f64,
    /// When.
    pub time_secs: f64,
    /// For how long it was below, in reset or booting.
    pub below_secs: f64,
}

impl HappeningKind {
    /// The word that outputs use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Reset => "reset",
            Self::Release => "release",
            Self::Booted => "booted",
            Self::On => "on",
            Self::Off => "off",
            Self::Passes => "pass",
            Self::Switches => "switching",
            Self::Regulates => "regulating",
            Self::Collapses => "collapsed",
            Self::Detects => "detects",
            Self::LetsGo => "lets-go",
        }
    }
}

impl NeedSeen {
    /// Whether the load was below its working range at any instant.
    #[must_use]
    pub fn fails(&self) -> bool {
        self.below_secs > 0.0 || self.lowest_volts < self.from_volts
    }
}

/// Share of the rest voltage within which a rail has recovered.
const RECOVERED: f64 = 0.01;
/// How far a curve may leave a straight line between kept instants.
const BEND_VOLTS: f64 = 1e-4;

/// Keeps what is needed of every instant.
pub(super) struct Recorder {
    time_secs: Vec<f64>,
    nets: Vec<Vec<f64>>,
    cells: Vec<Vec<f64>>,
    supplies: Vec<Vec<f64>>,
    rail: Option<usize>,
    starts: bool,
    switched: bool,
    edges_secs: Vec<f64>,
    happenings: Vec<Happening>,
    needs: Vec<NeedSeen>,
    /// By load: place among the needs of the state that it is in.
    open_needs: Vec<Option<usize>>,
    good_secs: Option<f64>,
    /// The instant at which that was, by its place.
    good_at: usize,
    is_good: bool,
    inrush: Inrush,
    last_amps: f64,
    lost_input: bool,
    /// By load: whether it was up at the last instant, and its voltage.
    last_loads: Vec<(bool, f64)>,
    /// The instant at hand last; instants kept within a step do not count.
    last_secs: f64,
    amps: Vec<f64>,
    capacitors_before: Vec<(String, f64)>,
}

impl Recorder {
    /// Instants that are kept at most.
    pub(super) const MOST_INSTANTS: usize = 200_000;

    pub(super) fn new(circuit: &Circuit, request: &BurstRequest, now: &Transient) -> Self {
        let connector = circuit.family().connector.rail();
        let first_load = || circuit.loads().first().map(|(_, l)| l.plus.clone());
        let rail = connector.and_then(|rail| now.net(rail));
        let rail = rail.or_else(|| first_load().and_then(|net| now.net(&net)));
        Self {
            time_secs: Vec::new(),
            nets: vec![Vec::new(); now.known_nets()],
            cells: vec![Vec::new(); circuit.cell_names().len()],
            supplies: vec![Vec::new(); circuit.supply_names().len()],
            rail,
            starts: request.begin != Begin::Settled,
            switched: false,
            edges_secs: Vec::new(),
            happenings: Vec::new(),
            needs: Vec::new(),
            open_needs: vec![None; circuit.loads().len()],
            good_secs: None,
            good_at: 0,
            is_good: false,
            inrush: Inrush::default(),
            last_amps: 0.0,
            lost_input: false,
            last_secs: 0.0,
            last_loads: vec![(false, 0.0); circuit.loads().len()],
            amps: Vec::new(),
            capacitors_before: capacitors(circuit, now),
        }
    }

    pub(super) fn trips(&self) -> usize {
        self.happenings.len()
    }

    /// Notes that a converter has lost its input.
    pub(super) fn lose_input(&mut self) {
        self.lost_input = true;
    }

    pub(super) fn has_lost_input(&self) -> bool {
        self.lost_input
    }

    /// By how much all loads have stayed inside their working ranges so far.
    pub(super) fn spare_volts(&self) -> f64 {
        let each = self.needs.iter().map(|n| n.lowest_volts - n.from_volts);
        each.fold(f64::INFINITY, f64::min)
    }

    /// Notes an edge. Once something is switched, being good and the inrush count from there.
    pub(super) fn edge(&mut self, secs: f64, switched: bool) {
        self.edges_secs.push(secs);
        if switched {
            self.switched = true;
            self.good_secs = None;
            self.inrush = Inrush::default();
        }
    }

    /// Opens the needs of the states that a stretch puts the loads into.
    pub(super) fn stretch(&mut self, circuit: &Circuit, situation: &Situation) {
        for (at, (name, load)) in circuit.loads().into_iter().enumerate() {
            let state = situation.states.get(&name).and_then(|s| load.state(s));
            let state = state.unwrap_or(0);
            self.open_needs[at] = load.working_in(state).map(|range| {
                let state = load.states.get(state).map_or("", |s| s.name.as_str());
                self.need(&name, state, (range.from.as_volts(), range.to.as_volts()))
            });
        }
    }

    fn need(&mut self, load: &str, state: &str, (from_volts, to_volts): (f64, f64)) -> usize {
        let same = |n: &NeedSeen| n.load == load && n.state == state;
        self.needs.iter().position(same).unwrap_or_else(|| {
            self.needs.push(NeedSeen {
                load: load.to_owned(),
                state: state.to_owned(),
                from_volts,
                to_volts,
                lowest_volts: f64::INFINITY,
                time_secs: 0.0,
                below_secs: 0.0,
            });
            self.needs.len() - 1
        })
    }

    /// Keeps the instant at hand; false where there are too many.
    pub(super) fn instant(&mut self, secs: f64, now: &Transient) -> bool {
        if self.time_secs.len() >= Self::MOST_INSTANTS {
            return false;
        }
        let since = secs - self.last_secs;
        self.last_secs = secs;
        self.keep(secs, &now.frame.x, now);
        let (mut good, mut any) = (true, false);
        let mut good_from: f64 = 0.0;
        for at in 0..self.open_needs.len() {
            let Some(need) = self.open_needs[at] else {
                continue;
            };
            any = true;
            let need = &mut self.needs[need];
            let volts = now.load_volts(at, &now.frame.x).unwrap_or(0.0);
            let is_up = now.is_up(at);
            let holds = is_up && volts >= need.from_volts;
            let (was_up, before) = std::mem::replace(&mut self.last_loads[at], (is_up, volts));
            // A load that was up already has come into its range somewhere since the last instant.
            let rise = volts - before;
            let ago = if was_up && rise > 0.0 {
                since * ((volts - need.from_volts) / rise).clamp(0.0, 1.0)
            } else {
                0.0
            };
            good_from = good_from.max(secs - ago);
            good &= holds && volts <= need.to_volts;
            if !holds {
                need.below_secs += since;
            }
        }
        self.is_good = good && any;
        if self.is_good && self.good_secs.is_none() {
            self.good_secs = Some(good_from);
            self.good_at = self.time_secs.len() - 1;
        }
        let amps = now.source_amps(&now.frame.x);
        if self.good_secs.is_none_or(|good| secs <= good) {
            self.inrush.coulombs += since * f64::midpoint(self.last_amps, amps);
        }
        if amps > self.inrush.peak_amps {
            (self.inrush.peak_amps, self.inrush.peak_secs) = (amps, secs);
        }
        self.last_amps = amps;
        true
    }

    /// Whether a curve leaves the straight line from the last instant to the end of the step at hand;
    /// where not all is kept, whether it dips below both.
    pub(super) fn bends(&self, now: &Transient, keeps_all: bool) -> bool {
        let [_, (share, middle), (_, end)] = now.frame.stages.as_slice() else {
            return false;
        };
        let mut nets = self.nets.iter().enumerate();
        let bends = nets.any(|(net, volts)| {
            let before = volts.last().copied().unwrap_or(middle[net]);
            let straight = before + share * (end[net] - before);
            let dips = middle[net] < before.min(end[net]);
            dips || (keeps_all && (middle[net] - straight).abs() > BEND_VOLTS)
        });
        bends && self.time_secs.len() + 3 < Self::MOST_INSTANTS
    }

    /// Keeps an instant.
    pub(super) fn keep(&mut self, secs: f64, x: &[f64], now: &Transient) {
        self.time_secs.push(secs);
        for (net, volts) in self.nets.iter_mut().enumerate() {
            volts.push(x[net]);
        }
        let mut amps = std::mem::take(&mut self.amps);
        now.cell_amps(x, &mut amps);
        for (list, amps) in self.cells.iter_mut().zip(&amps) {
            list.push(*amps);
        }
        now.supply_amps(x, &mut amps);
        for (list, amps) in self.supplies.iter_mut().zip(&amps) {
            list.push(*amps);
        }
        self.amps = amps;
        for at in 0..self.open_needs.len() {
            if let (Some(need), Some(volts)) = (self.open_needs[at], now.load_volts(at, x)) {
                let need = &mut self.needs[need];
                if volts < need.lowest_volts {
                    (need.lowest_volts, need.time_secs) = (volts, secs);
                }
            }
        }
    }

    /// Notes what has happened.
    pub(super) fn happened(&mut self, secs: f64, trip: Trip, circuit: &Circuit) {
        let kind = match trip {
            Trip::Reset(_) => HappeningKind::Reset,
            Trip::Release(_) => HappeningKind::Release,
            Trip::On(part) if is_detector(part, circuit) => HappeningKind::LetsGo,
            Trip::Off(part) if is_detector(part, circuit) => HappeningKind::Detects,
            Trip::On(_) => HappeningKind::On,
            Trip::Off(_) => HappeningKind::Off,
            Trip::Passes(_) => HappeningKind::Passes,
            Trip::Switches(_) => HappeningKind::Switches,
            Trip::Regulates(_) => HappeningKind::Regulates,
            Trip::Collapses(_) => HappeningKind::Collapses,
        };
        let name = name_of(trip, circuit);
        self.note(secs, kind, name);
    }

    /// Notes that a load has booted.
    pub(super) fn booted(&mut self, secs: f64, load: usize, circuit: &Circuit) {
        let name = circuit.loads()[load].0.clone();
        self.note(secs, HappeningKind::Booted, name);
    }

    fn note(&mut self, time_secs: f64, kind: HappeningKind, name: String) {
        self.happenings.push(Happening {
            time_secs,
            kind,
            name,
        });
    }

    /// What all instants come to.
    pub(super) fn finish(
        self,
        circuit: &Circuit,
        now: &Transient,
        hiccup: Option<Hiccup>,
    ) -> Waveform {
        let (lowest, recovery_secs) = (self.lowest(circuit), self.recovery_secs());
        let names = circuit.net_names();
        let (cells, supplies) = (circuit.cell_names(), circuit.supply_names());
        Waveform {
            rail: self.rail.map(|net| names[net].clone()),
            lowest,
            recovery_secs,
            inrush: (self.starts || self.switched).then_some(self.inrush),
            good_secs: self.good_secs,
            is_good: self.is_good,
            nets: names.into_iter().zip(self.nets).collect(),
            cells: cells.into_iter().zip(self.cells).collect(),
            supplies: supplies.into_iter().zip(self.supplies).collect(),
            time_secs: self.time_secs,
            edges_secs: self.edges_secs,
            happenings: self.happenings,
            hiccup,
            lost_input: self.lost_input,
            needs: self.needs,
            cells_after: now.cells(),
            capacitors_before: self.capacitors_before,
            capacitors_after: capacitors(circuit, now),
            newton_steps: now.newton_steps(),
        }
    }

    fn lowest(&self, circuit: &Circuit) -> Option<Lowest> {
        let net = self.rail?;
        let from = if self.starts {
            self.good_secs.map(|_| self.good_at)?
        } else {
            0
        };
        let instants = self.time_secs.iter().zip(&self.nets[net]);
        let (secs, volts) = instants.skip(from).min_by(|a, b| a.1.total_cmp(b.1))?;
        Some(Lowest {
            net: circuit.net_names()[net].clone(),
            volts: *volts,
            time_secs: *secs,
        })
    }

    /// From the last edge until the rail stays within 1 % of its rest.
    fn recovery_secs(&self) -> Option<f64> {
        let volts = &self.nets[self.rail?];
        let rest = if self.starts {
            *volts.last()?
        } else {
            *volts.first()?
        };
        let edge = self.edges_secs.last().copied().unwrap_or(0.0);
        let off = |at: &usize| (volts[*at] - rest).abs() > RECOVERED * rest.abs();
        let mut later = (0..volts.len()).filter(|&at| self.time_secs[at] >= edge);
        let Some(last) = later.rfind(off) else {
            return Some(0.0);
        };
        let next = *volts.get(last + 1)?;
        let target = rest + RECOVERED * rest.abs() * (volts[last] - rest).signum();
        let share = ((target - volts[last]) / (next - volts[last])).clamp(0.0, 1.0);
        let (from, to) = (self.time_secs[last], self.time_secs[last + 1]);
        Some(from + share * (to - from) - edge)
    }
}

fn capacitors(circuit: &Circuit, now: &Transient) -> Vec<(String, f64)> {
    let parts = circuit.parts();
    let charges = now.charges().into_iter();
    charges
        .map(|(part, volts)| (parts[part].0.clone(), volts))
        .collect()
}

fn is_detector(part: usize, circuit: &Circuit) -> bool {
    let parts = circuit.parts();
    matches!(parts[part].1.device, Device::Detector(_))
}

/// Name of the load or part that trips.
pub(super) fn name_of(trip: Trip, circuit: &Circuit) -> String {
    match trip {
        Trip::Reset(load) | Trip::Release(load) => circuit.loads()[load].0.clone(),
        Trip::On(part)
        | Trip::Off(part)
        | Trip::Passes(part)
        | Trip::Switches(part)
        | Trip::Regulates(part)
        | Trip::Collapses(part) => circuit.parts()[part].0.clone(),
    }
}
