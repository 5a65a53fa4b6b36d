//! A solved operating point.

use thiserror::Error;

/// What a regulator, detector, load switch or ideal diode is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Mode {
    /// Switched off, or its input is too low.
    Off,
    /// Enabled, and its input is too low to start into this load.
    Start,
    /// Regulating.
    Run,
    /// At its current limit.
    Limit,
    /// Input too low to hold the output.
    Dropout,
    /// Input above the set output: passed on.
    Pass,
    /// Asked for more than the source can give: fallen off.
    Collapsed,
    /// Starts, falls off and starts again.
    Hiccup,
    /// A load switch or an ideal diode whose channel is at work.
    On,
    /// An ideal diode with too little voltage to work from: its body diode is left.
    BodyDiode,
    /// A detector that has let its output go.
    Released,
    /// A detector that pulls its output low.
    Detects,
}

impl Mode {
    /// The word that outputs use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Off => "off",
            Self::Start => "start",
            Self::Run => "run",
            Self::Limit => "limit",
            Self::Dropout => "dropout",
            Self::Pass => "pass",
            Self::Collapsed => "collapsed",
            Self::Hiccup => "hiccup",
            Self::On => "on",
            Self::BodyDiode => "body-diode",
            Self::Released => "released",
            Self::Detects => "detects",
        }
    }
}

/// Every voltage, current and loss in one situation.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Voltages against the connector's ground, in circuit order.
    pub nets: Vec<NetPoint>,
    /// Parts in circuit order.
    pub parts: Vec<PartPoint>,
    /// Loads in circuit order.
    pub loads: Vec<LoadPoint>,
    /// Control pins (`REF.pin`) without a defined level, and open pins' nets without a DC path.
    pub floating: Vec<String>,
    /// Converters asked for more than their source can give.
    pub folds: Vec<Fold>,
    /// Largest sum of currents into any net, ground included.
    pub kcl_residual_amps: f64,
    /// Newton steps taken.
    pub newton_steps: usize,
    /// All unknowns of the equations, to start a neighbouring point from.
    pub(crate) unknowns: Vec<f64>,
}

/// One net.
#[derive(Debug, Clone, PartialEq)]
pub struct NetPoint {
    /// Its name.
    pub name: String,
    /// Its voltage against ground.
    pub volts: f64,
}

/// One part.
#[derive(Debug, Clone, PartialEq)]
pub struct PartPoint {
    /// Its name.
    pub name: String,
    /// Current into the first pin; out of plus for cells and supplies.
    pub amps: f64,
    /// Voltage from first to second pin; output to ground for regulators.
    pub volts: f64,
    /// Absorbed power, negative for sources.
    pub watts: f64,
    /// Current into each pin, in the part's order.
    pub pin_amps: Vec<f64>,
    /// What a regulator is doing.
    pub mode: Option<Mode>,
    /// Inductor or output current that a regulator limits, where it is one.
    pub inductor_amps: Option<f64>,
}

/// One load.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadPoint {
    /// Its name.
    pub name: String,
    /// Current it takes.
    pub amps: f64,
    /// Voltage across it.
    pub volts: f64,
    /// Power it takes.
    pub watts: f64,
    /// Whether it is out of reset.
    pub awake: bool,
}

/// A converter past its fold.
#[derive(Debug, Clone, PartialEq)]
pub struct Fold {
    /// Name of the converter.
    pub part: String,
    /// Share of the load that the source could still carry.
    pub load_share: f64,
    /// The most power that the source can give into the converter.
    pub most_watts: f64,
}

/// Why there is no operating point.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoPoint {
    /// The equations do not determine the voltages or currents named.
    #[error("the circuit does not determine {}", .nets.join(", "))]
    Singular {
        /// Nets and branches concerned.
        nets: Vec<String>,
    },
    /// No method found a solution.
    #[error("no operating point found; the largest disagreement is {residual:.3e} at {net}")]
    NotConverged {
        /// Where the equations disagree most.
        net: String,
        /// By how much, in the unit of the equation.
        residual: f64,
    },
    /// The situation names something that the circuit does not have.
    #[error("there is no {what}")]
    Unknown {
        /// What was named.
        what: String,
    },
}

impl Point {
    /// Voltage of the net of this name.
    #[must_use]
    pub fn net(&self, name: &str) -> Option<f64> {
        self.nets.iter().find(|n| n.name == name).map(|n| n.volts)
    }

    /// The part of this name.
    #[must_use]
    pub fn part(&self, name: &str) -> Option<&PartPoint> {
        self.parts.iter().find(|p| p.name == name)
    }

    /// The load of this name.
    #[must_use]
    pub fn load(&self, name: &str) -> Option<&LoadPoint> {
        self.loads.iter().find(|l| l.name == name)
    }
}
