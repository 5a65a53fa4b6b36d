//! One supply board: parts with reference designators on named nets.

use crate::device::{
    Capacitor, Cell, Diode, Fet, Fuse, Inductor, Led, Regulator, Resistor, Supply, Switch,
};
use crate::model::Load;
use crate::quantity::{Temperature, ThermalResistance};

/// One supply board.
#[derive(Debug, Clone, PartialEq)]
pub struct Board {
    /// The stem of its file.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// Names of its nets in order of first mention.
    pub nets: Vec<String>,
    /// Its parts in file order.
    pub parts: Vec<Part>,
    /// Loads of its own, off the connector.
    pub loads: Vec<Load>,
}

/// One part.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Reference designator.
    pub name: String,
    /// What kind of part.
    pub kind: Kind,
    /// Its pins in the order of the kind: two-pin parts `1 2`, `plus minus` or `anode cathode`;
    /// transistors `drain source gate`; regulators `in out gnd`, then what else they have.
    pub pins: Vec<Pin>,
    /// What it is made of.
    pub device: Device,
    /// Between which temperatures it works, and how warm it gets.
    pub heat: Heat,
    /// Where its figures come from.
    pub origin: Origin,
}

/// Temperatures that a part bears, as far as they are stated.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Heat {
    /// Rise of its hottest place over the ambient for each watt that it turns into heat.
    pub thermal: Option<ThermalResistance>,
    /// What its junction or body bears.
    pub hottest: Option<Temperature>,
    /// Coldest ambient in which it works as stated.
    pub lowest: Option<Temperature>,
    /// Hottest ambient in which it works as stated.
    pub highest: Option<Temperature>,
    /// Whether the ambients follow from the code of a dielectric and are not stated for the part.
    pub by_code: bool,
}

/// One pin.
#[derive(Debug, Clone, PartialEq)]
pub struct Pin {
    /// Its name.
    pub name: String,
    /// Its net as a place in the board's list.
    pub net: Option<usize>,
    /// Whether the file says that it is meant to be unconnected.
    pub declared_open: bool,
}

/// Where the figures of a part come from.
#[derive(Debug, Clone, PartialEq)]
pub struct Origin {
    /// Name of the model, where one is used.
    pub model: Option<String>,
    /// Source of the model's figures.
    pub source: Option<String>,
    /// How sure the figures are.
    pub confidence: Confidence,
    /// Whether the model is a class of parts and not one that can be bought.
    pub class: bool,
}

/// How sure figures are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Confidence {
    /// From memory.
    Memory,
    /// Typical of a class of parts.
    Typical,
    /// From a data sheet or written by the user.
    DataSheet,
}

/// Kind of a part, as its file says it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Kind {
    /// Cell or string of cells.
    Cell,
    /// Supply from outside.
    Supply,
    /// Resistor.
    Resistor,
    /// Capacitor.
    Capacitor,
    /// Inductor.
    Inductor,
    /// Diode.
    Diode,
    /// Light-emitting diode.
    Led,
    /// P-channel transistor.
    PFet,
    /// N-channel transistor.
    NFet,
    /// Switch.
    Switch,
    /// Jumper.
    Jumper,
    /// Fuse.
    Fuse,
    /// Linear regulator.
    Ldo,
    /// Step-down converter.
    Buck,
    /// Step-up converter.
    Boost,
    /// Step-up/down converter.
    BuckBoost,
    /// A named load on nets of the board.
    Load,
    /// Test point.
    TestPoint,
}

/// What a part is made of.
#[derive(Debug, Clone, PartialEq)]
pub enum Device {
    /// Cell or string of cells; pins plus, minus.
    Cell(Box<Cell>),
    /// Supply; pins plus, minus.
    Supply(Supply),
    /// Resistor; pins 1, 2.
    Resistor(Resistor),
    /// Capacitor; pins 1, 2 or plus, minus.
    Capacitor(Capacitor),
    /// Inductor; pins 1, 2.
    Inductor(Inductor),
    /// Diode; pins anode, cathode.
    Diode(Diode),
    /// Light-emitting diode; pins anode, cathode.
    Led(Led),
    /// Transistor; pins drain, source, gate.
    Fet(Fet),
    /// Switch or jumper; pins as its positions name them.
    Switch(Switch),
    /// Fuse; pins 1, 2.
    Fuse(Fuse),
    /// Regulator; pins in, out, gnd and, where present, enable, fb, sw or sw1 and sw2.
    Regulator(Box<Regulator>),
    /// Attaches the load of this name; pins plus, minus.
    Load(String),
    /// One pin, nothing inside.
    TestPoint,
}

impl Kind {
    /// Every kind, in the order of the files' manual.
    pub const ALL: [Self; 18] = [
        Self::Cell,
        Self::Supply,
        Self::Resistor,
        Self::Capacitor,
        Self::Inductor,
        Self::Diode,
        Self::Led,
        Self::PFet,
        Self::NFet,
        Self::Switch,
        Self::Jumper,
        Self::Fuse,
        Self::Ldo,
        Self::Buck,
        Self::Boost,
        Self::BuckBoost,
        Self::Load,
        Self::TestPoint,
    ];

    /// The word that files use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Cell => "cell",
            Self::Supply => "supply",
            Self::Resistor => "resistor",
            Self::Capacitor => "capacitor",
            Self::Inductor => "inductor",
            Self::Diode => "diode",
            Self::Led => "led",
            Self::PFet => "p-fet",
            Self::NFet => "n-fet",
            Self::Switch => "switch",
            Self::Jumper => "jumper",
            Self::Fuse => "fuse",
            Self::Ldo => "ldo",
            Self::Buck => "buck",
            Self::Boost => "boost",
            Self::BuckBoost => "buck-boost",
            Self::Load => "load",
            Self::TestPoint => "test-point",
        }
    }
}

impl Board {
    /// The part of this name.
    #[must_use]
    pub fn part(&self, name: &str) -> Option<&Part> {
        self.parts.iter().find(|p| p.name == name)
    }

    /// Name of the net that a pin is on.
    #[must_use]
    pub fn net_of(&self, pin: &Pin) -> Option<&str> {
        pin.net
            .and_then(|net| self.nets.get(net))
            .map(String::as_str)
    }

    /// Whether a cell feeds the board.
    #[must_use]
    pub fn has_cell(&self) -> bool {
        self.parts.iter().any(|p| p.kind == Kind::Cell)
    }
}

impl Part {
    /// The pin of this name and its place.
    #[must_use]
    pub fn pin(&self, name: &str) -> Option<(usize, &Pin)> {
        self.pins
            .iter()
            .enumerate()
            .find(|(_, pin)| pin.name == name)
    }

    /// The net of the pin of this name.
    #[must_use]
    pub fn net(&self, pin: &str) -> Option<usize> {
        self.pin(pin).and_then(|(_, pin)| pin.net)
    }
}
