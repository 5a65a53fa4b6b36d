//! The same family with something changed: the one way in which tolerances, corners, what-if
//! questions and edits reach the model.

use thiserror::Error;

use crate::device::Resistor;
use crate::model::{Board, Device, Family, Kind};
use crate::quantity::{Bearing, Properties, Quantity, Resistance, Spread};

/// Names one adjustable property.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct PropertyId {
    /// Name of the board, or none for a load of the family.
    pub board: Option<String>,
    /// Name of the part or load.
    pub part: String,
    /// Key as in the files, nested tables with dots.
    pub key: String,
}

/// One change.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Gives a property a value, in SI units, without spread.
    Set(PropertyId, f64),
    /// Takes a part off the board.
    Remove {
        /// Name of the board.
        board: String,
        /// Name of the part.
        part: String,
    },
    /// Replaces a part by a wire between its first two pins.
    Bridge {
        /// Name of the board.
        board: String,
        /// Name of the part.
        part: String,
    },
    /// Takes every property that has limits to one of them.
    Corner(Corner),
}

/// Which limits to take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Corner {
    /// The highest leakages, quiescent currents and load currents, and clamps that conduct first.
    MostDrain,
}

/// Why a change does not fit the family.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ModelError {
    /// There is no such board.
    #[error("there is no board {board}")]
    NoBoard {
        /// Its name.
        board: String,
    },
    /// There is no such part or load.
    #[error("there is no part or load {part}")]
    NoPart {
        /// Its name.
        part: String,
    },
    /// The part has no such property.
    #[error("{part} has no property {key}")]
    NoProperty {
        /// Name of the part or load.
        part: String,
        /// The key.
        key: String,
    },
}

impl Family {
    /// The same family with changes made, in order.
    ///
    /// # Errors
    /// A change that names a board, part or property that is not there.
    pub fn with(&self, changes: &[Change]) -> Result<Self, ModelError> {
        let mut family = self.clone();
        for change in changes {
            family.change(change)?;
        }
        Ok(family)
    }

    fn change(&mut self, change: &Change) -> Result<(), ModelError> {
        match change {
            Change::Set(id, value) => self.set(id, *value),
            Change::Remove { board, part } => {
                let board = self.board_mut(board)?;
                let at = place(board, part)?;
                board.parts.remove(at);
                Ok(())
            }
            Change::Bridge { board, part } => {
                let board = self.board_mut(board)?;
                let at = place(board, part)?;
                let part = &mut board.parts[at];
                part.pins.truncate(2);
                part.kind = Kind::Resistor;
                let value = Spread::exactly(Resistance::from_ohms(0.0));
                part.device = Device::Resistor(Resistor { value, rated: None });
                Ok(())
            }
            Change::Corner(Corner::MostDrain) => {
                self.visit_all(&mut MostDrain);
                Ok(())
            }
        }
    }

    fn set(&mut self, id: &PropertyId, value: f64) -> Result<(), ModelError> {
        let mut setter = Setter {
            key: &id.key,
            value,
            found: false,
        };
        match &id.board {
            None => {
                let load = self.loads.iter_mut().find(|l| l.name == id.part);
                load.ok_or_else(|| no_part(&id.part))?.visit(&mut setter);
            }
            Some(board) => {
                let board = self.board_mut(board)?;
                if let Some(load) = board.loads.iter_mut().find(|l| l.name == id.part) {
                    load.visit(&mut setter);
                } else {
                    let at = place(board, &id.part)?;
                    board.parts[at].device.visit(&mut setter);
                }
            }
        }
        if setter.found {
            Ok(())
        } else {
            Err(ModelError::NoProperty {
                part: id.part.clone(),
                key: id.key.clone(),
            })
        }
    }

    fn visit_all<P: Properties>(&mut self, p: &mut P) {
        for load in &mut self.loads {
            load.visit(p);
        }
        for board in &mut self.boards {
            for load in &mut board.loads {
                load.visit(p);
            }
            for part in &mut board.parts {
                part.device.visit(p);
            }
        }
    }

    fn board_mut(&mut self, name: &str) -> Result<&mut Board, ModelError> {
        let board = self.boards.iter_mut().find(|b| b.name == name);
        board.ok_or_else(|| ModelError::NoBoard {
            board: name.to_owned(),
        })
    }
}

impl Device {
    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        match self {
            Self::Cell(d) => d.visit(p),
            Self::Supply(d) => d.visit(p),
            Self::Resistor(d) => d.visit(p),
            Self::Capacitor(d) => d.visit(p),
            Self::Inductor(d) => d.visit(p),
            Self::Diode(d) => d.visit(p),
            Self::Zener(d) => d.visit(p),
            Self::Led(d) => d.junction.visit(p),
            Self::Fet(d) => d.visit(p),
            Self::Switch(d) => d.visit(p),
            Self::Fuse(d) => d.visit(p),
            Self::Ptc(d) => d.visit(p),
            Self::Regulator(d) => d.visit(p),
            Self::Detector(d) => d.visit(p),
            Self::LoadSwitch(d) => d.visit(p),
            Self::IdealDiode(d) => d.visit(p),
            Self::Load(_) | Self::TestPoint => {}
        }
    }
}

struct Setter<'a> {
    key: &'a str,
    value: f64,
    found: bool,
}

impl Properties for Setter<'_> {
    fn spread<Q: Quantity>(&mut self, key: &str, _bearing: Bearing, value: &mut Spread<Q>) {
        if key == self.key {
            *value = Spread::exactly(Q::from_si(self.value));
            self.found = true;
        }
    }
}

struct MostDrain;

impl Properties for MostDrain {
    fn spread<Q: Quantity>(&mut self, _key: &str, bearing: Bearing, value: &mut Spread<Q>) {
        let worst = match bearing {
            Bearing::Drain => value.max,
            Bearing::Hold => value.min,
            Bearing::Other => None,
        };
        if let Some(worst) = worst {
            value.typ = worst;
        }
    }
}

fn place(board: &Board, part: &str) -> Result<usize, ModelError> {
    board
        .parts
        .iter()
        .position(|p| p.name == part)
        .ok_or_else(|| no_part(part))
}

fn no_part(part: &str) -> ModelError {
    ModelError::NoPart {
        part: part.to_owned(),
    }
}
