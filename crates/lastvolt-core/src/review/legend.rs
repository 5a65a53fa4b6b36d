//! What each position of each switch does, from the solved matrix: rails, lamps, loads, current of the
//! cells. One switch is moved at a time, the others are in their usual positions.

use crate::circuit::{MatrixCase, Point};
use crate::model::{Device, Kind};
use crate::review::{Evidence, words};

/// Current from which a lamp is called lit: some tens of microamperes are seen indoors in an efficient
/// lamp (common practice).
pub const LIT_FROM_AMPS: f64 = 50e-6;

/// Voltage from which a rail that nobody states a working range for is called up: half a volt is
/// below what any circuit of the trade runs from (common practice).
const UP_FROM_VOLTS: f64 = 0.5;

/// What the positions of one switch do.
#[derive(Debug, Clone, PartialEq)]
pub struct SwitchLegend {
    /// Name of the switch.
    pub part: String,
    /// What is printed beside it.
    pub label: Option<String>,
    /// One a position, in file order.
    pub rows: Vec<LegendRow>,
}

/// What one position does.
#[derive(Debug, Clone, PartialEq)]
pub struct LegendRow {
    /// The position.
    pub position: String,
    /// Whether it is the usual one.
    pub usual: bool,
    /// Each rail of the connector: its name, its voltage and whether it is up.
    pub rails: Vec<Rail>,
    /// Lamps that are lit.
    pub lit: Vec<String>,
    /// Loads that are awake and in their working range, of all that the board feeds.
    pub powered: Vec<String>,
    /// Loads that are not.
    pub unpowered: Vec<String>,
    /// Current of all cells and supplies.
    pub source_amps: f64,
}

/// A rail in one position.
#[derive(Debug, Clone, PartialEq)]
pub struct Rail {
    /// Name of its net.
    pub net: String,
    /// Its voltage.
    pub volts: f64,
    /// Whether it is up.
    pub up: bool,
}

/// What the positions of every switch and jumper of a board do.
#[must_use]
pub fn legend(e: &Evidence) -> Vec<SwitchLegend> {
    let usual = e.usual().positions;
    let mut out = Vec::new();
    for part in &e.board.parts {
        let Device::Switch(switch) = &part.device else {
            continue;
        };
        let mut rows = Vec::new();
        for (at, position) in switch.positions.iter().enumerate() {
            let mut wanted = usual.clone();
            wanted.insert(part.name.clone(), position.name.clone());
            let case = e.forward().find(|(c, _)| c.situation.positions == wanted);
            if let Some((case, point)) = case {
                rows.push(LegendRow {
                    position: position.name.clone(),
                    usual: at == switch.usual,
                    ..row(e, case, point)
                });
            }
        }
        out.push(SwitchLegend {
            part: part.name.clone(),
            label: switch.label.clone(),
            rows,
        });
    }
    out
}

/// What one solved case does.
#[must_use]
pub fn row(e: &Evidence, case: &MatrixCase, point: &Point) -> LegendRow {
    let connector = &e.family.connector;
    let ground = connector.ground_net();
    let driven: Vec<&str> = e
        .family
        .loads_of(e.board)
        .iter()
        .flat_map(|l| &l.drives)
        .map(|d| d.net.as_str())
        .collect();
    let rails = connector.pins.iter().filter(|p| p.as_str() != ground);
    let rails = rails.filter(|p| !driven.contains(&p.as_str()));
    let rails = rails.filter_map(|net| {
        let volts = point.net(net)?;
        Some(Rail {
            net: net.clone(),
            volts,
            up: is_up(e, net, volts),
        })
    });
    let leds = e.board.parts.iter().filter(|p| p.kind == Kind::Led);
    let lit = leds.filter(|p| {
        point
            .part(&p.name)
            .is_some_and(|at| LIT_FROM_AMPS <= at.amps)
    });
    let short = e.shortfalls(&case.situation, point);
    let (mut powered, mut unpowered) = (Vec::new(), Vec::new());
    for load in &point.loads {
        if load.awake && !short.iter().any(|s| s.load == load.name) {
            powered.push(load.name.clone());
        } else {
            unpowered.push(load.name.clone());
        }
    }
    let sources = e.board.parts.iter();
    let sources = sources.filter(|p| matches!(p.kind, Kind::Cell | Kind::Supply));
    LegendRow {
        position: String::new(),
        usual: false,
        rails: rails.collect(),
        lit: lit.map(|p| p.name.clone()).collect(),
        powered,
        unpowered,
        source_amps: sources
            .filter_map(|p| point.part(&p.name))
            .map(|p| p.amps)
            .sum(),
    }
}

/// Whether a rail is up: it reaches what some load on it works from, else what is promised, else half a volt.
#[must_use]
pub fn is_up(e: &Evidence, net: &str, volts: f64) -> bool {
    let loads = e.family.loads_of(e.board);
    let on = loads.iter().filter(|l| l.plus == net);
    let needs = on.filter_map(|l| super::evidence::lowest_working(l));
    let promises = e.family.connector.promises.iter();
    let promised = promises.filter(|p| p.pin == net).filter_map(|p| p.band);
    let from = needs
        .reduce(f64::min)
        .or_else(|| promised.map(|b| b.0.as_volts()).reduce(f64::min));
    from.unwrap_or(UP_FROM_VOLTS) <= volts
}

impl LegendRow {
    /// What the position does, in a sentence that reads well aloud.
    #[must_use]
    pub fn says(&self) -> String {
        let mut out: Vec<String> = Vec::new();
        for rail in &self.rails {
            let state = if rail.up { "up" } else { "down" };
            out.push(format!(
                "{} is {state} at {}",
                rail.net,
                words::volts(rail.volts)
            ));
        }
        match (self.powered.as_slice(), self.unpowered.as_slice()) {
            ([], []) => {}
            ([], _) => out.push("nothing is powered".to_owned()),
            (on, []) => out.push(format!("{} powered", is(on))),
            (on, off) => out.push(format!("{} powered, {} not", is(on), words::join(off))),
        }
        if !self.lit.is_empty() {
            out.push(format!("{} lit", is(&self.lit)));
        }
        out.push(format!(
            "the sources give {}",
            words::amps(self.source_amps)
        ));
        let text = out.join("; ");
        format!("{text}.")
    }

    /// The same in the few words that fit on a board: rails that are up, lamps that are lit, or `OFF`.
    #[must_use]
    pub fn short(&self) -> String {
        let up = self.rails.iter().filter(|r| r.up);
        let mut out: Vec<String> = up.map(|r| format!("{} {:.1}V", r.net, r.volts)).collect();
        out.extend(self.lit.iter().map(|l| format!("{l} lit")));
        if out.is_empty() {
            return "off".to_owned();
        }
        out.join(", ")
    }
}

fn is(names: &[String]) -> String {
    let verb = if names.len() == 1 { "is" } else { "are" };
    format!("{} {verb}", words::join(names))
}
