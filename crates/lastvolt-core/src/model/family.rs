//! The family: its boards and what they are asked to do.

use crate::model::{Board, Load, Profile};
use crate::quantity::{Current, Fraction, Temperature, TemperatureDifference, Time, Voltage};

/// Everything that a review starts from.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// Name for people.
    pub name: String,
    /// What the boards must reach.
    pub requirement: Requirement,
    /// The pins that every board shares.
    pub connector: Connector,
    /// Loads on the connector.
    pub loads: Vec<Load>,
    /// What the loads do over time.
    pub profiles: Vec<Profile>,
    /// The boards in file order.
    pub boards: Vec<Board>,
    /// Findings that the files accept.
    pub accepts: Vec<Accept>,
}

/// Findings that are known and meant to be so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Accept {
    /// The rule that says them.
    pub rule: String,
    /// The board whose file accepts them; none for the family's own file, which is about all boards.
    pub board: Option<String>,
    /// The parts they may be about; empty for any.
    pub parts: Vec<String>,
    /// Why they are fine.
    pub because: String,
}

/// What the boards must reach.
#[derive(Debug, Clone, PartialEq)]
pub struct Requirement {
    /// Run time from fresh.
    pub life: Option<Time>,
    /// Share of units that must reach it.
    pub confidence: Option<Fraction>,
    /// Time on the shelf before first use.
    pub storage: Option<Time>,
    /// Time wanted between the low-battery warning and the end.
    pub notice: Option<Time>,
    /// Where the boards live.
    pub ambient: Ambient,
}

/// Temperatures around the boards.
#[derive(Debug, Clone, PartialEq)]
pub struct Ambient {
    /// The coldest.
    pub low: Temperature,
    /// The usual.
    pub usual: Temperature,
    /// The hottest.
    pub high: Temperature,
    /// Month by month, where given.
    pub monthly: Option<Months>,
}

/// Names of the months, as files and outputs write them.
pub const MONTH_NAMES: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// A calendar of mean temperatures.
#[derive(Debug, Clone, PartialEq)]
pub struct Months {
    /// One a month, January first.
    pub celsius: [f64; 12],
    /// The month of first use, 0 for January.
    pub start: usize,
    /// How much warmer the day half of each day is than its night half.
    pub day_night: TemperatureDifference,
}

/// The pins that every board shares; boards stack on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Connector {
    /// Names of the pins, which are also names of nets.
    pub pins: Vec<String>,
    /// Which pin is the ground of everything.
    pub ground: usize,
    /// What the rails promise to anything plugged on.
    pub promises: Vec<RailPromise>,
}

/// What one rail promises.
#[derive(Debug, Clone, PartialEq)]
pub struct RailPromise {
    /// The connector pin.
    pub pin: String,
    /// Lowest and highest voltage.
    pub band: Option<(Voltage, Voltage)>,
    /// Current that may be drawn.
    pub current: Option<Current>,
}

impl Connector {
    /// Name of the ground net.
    #[must_use]
    pub fn ground_net(&self) -> &str {
        self.pins.get(self.ground).map_or("GND", String::as_str)
    }

    /// Name of the first pin that is not ground: the main rail.
    #[must_use]
    pub fn rail(&self) -> Option<&str> {
        let pin = self
            .pins
            .iter()
            .enumerate()
            .find(|(at, _)| *at != self.ground);
        pin.map(|(_, name)| name.as_str())
    }
}

impl Family {
    /// The board of this name.
    #[must_use]
    pub fn board(&self, name: &str) -> Option<&Board> {
        self.boards.iter().find(|b| b.name == name)
    }

    /// The profile of this name.
    #[must_use]
    pub fn profile(&self, name: &str) -> Option<&Profile> {
        self.profiles.iter().find(|p| p.name == name)
    }

    /// The loads that a board feeds: the family's that are not kept from it, then its own.
    #[must_use]
    pub fn loads_of<'a>(&'a self, board: &'a Board) -> Vec<&'a Load> {
        let allowed = |load: &&Load| load.on.as_ref().is_none_or(|on| on.contains(&board.name));
        self.loads
            .iter()
            .filter(allowed)
            .chain(&board.loads)
            .collect()
    }
}
