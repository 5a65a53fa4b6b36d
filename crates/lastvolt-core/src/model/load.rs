//! What the boards feed: states with a current law and a working range, reset and boot.

use crate::quantity::{Bearing, Current, Power, Properties, Resistance, Spread, Time, Voltage};

/// One load.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// Its name.
    pub name: String,
    /// Net of its positive pin.
    pub plus: String,
    /// Net of its negative pin.
    pub minus: String,
    /// Where it keeps its promise.
    pub working: Option<WorkingRange>,
    /// The most it survives.
    pub survives: Option<Voltage>,
    /// The most ripple of its supply that it bears, peak to peak.
    pub ripple: Option<Voltage>,
    /// When it resets and how it starts.
    pub reset: Option<Reset>,
    /// Its states in file order, at least one.
    pub states: Vec<LoadState>,
    /// Nets of control pins that its firmware drives.
    pub drives: Vec<Drive>,
    /// Names of the boards it is limited to.
    pub on: Option<Vec<String>>,
}

/// Lowest and highest voltage at which a load keeps its promise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WorkingRange {
    /// Lowest voltage.
    pub from: Voltage,
    /// Highest voltage.
    pub to: Voltage,
}

/// When a load resets and how it starts again.
#[derive(Debug, Clone, PartialEq)]
pub struct Reset {
    /// Below this it is off.
    pub below: Voltage,
    /// At this it starts again.
    pub release: Voltage,
    /// What it draws while it starts.
    pub boot: Vec<BootStep>,
}

/// One stretch of a boot sequence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BootStep {
    /// How long.
    pub span: Time,
    /// How much.
    pub current: Current,
}

/// One state.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadState {
    /// Its name.
    pub name: String,
    /// What it draws.
    pub law: Law,
    /// A narrower working range in this state.
    pub working: Option<WorkingRange>,
}

/// How the current of a load follows from its voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Law {
    /// Constant current.
    Current(Spread<Current>),
    /// A resistance.
    Resistance(Spread<Resistance>),
    /// Constant power.
    Power(Spread<Power>),
}

/// A net that the load's firmware drives.
#[derive(Debug, Clone, PartialEq)]
pub struct Drive {
    /// The net.
    pub net: String,
    /// What the pin does, one entry a state.
    pub levels: Vec<Level>,
    /// What the pin does while the load boots.
    pub boot: Level,
}

/// What a driven pin does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// Held at the load's positive pin.
    High,
    /// Held at the load's negative pin.
    Low,
    /// Not driven.
    Open,
}

impl Load {
    /// The place of the state of this name.
    #[must_use]
    pub fn state(&self, name: &str) -> Option<usize> {
        self.states.iter().position(|s| s.name == name)
    }

    /// The working range in a state: the state's own, or the load's.
    #[must_use]
    pub fn working_in(&self, state: usize) -> Option<WorkingRange> {
        self.states
            .get(state)
            .and_then(|s| s.working)
            .or(self.working)
    }

    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        for state in &mut self.states {
            let key = format!("states.{}", state.name);
            match &mut state.law {
                Law::Current(v) => p.spread(&key, Bearing::Drain, v),
                Law::Resistance(v) => p.spread(&key, Bearing::Other, v),
                Law::Power(v) => p.spread(&key, Bearing::Drain, v),
            }
        }
    }
}
