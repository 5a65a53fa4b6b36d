//! What each kind of part is made of: its parameters, its equations and its adjustable properties,
//! one file a kind. Knows nothing of nets.

mod capacitor;
mod cell;
mod diode;
mod fet;
mod film;
mod fuse;
mod inductor;
mod plug;
mod power_stage;
mod rating;
mod regulator;
mod resistor;
mod supply;
mod switch;

pub use capacitor::{Capacitor, Dielectric};
pub use cell::{
    Activation, Branch, Cell, CellLimits, CellModel, CellSpread, CellState, CellTemperature,
    Charging, Holder, Reversal, Wells,
};
pub use diode::{Diode, Junction, Led};
pub use fet::{Channel, ChannelLaw, Fet};
pub use film::Film;
pub use fuse::Fuse;
pub use inductor::Inductor;
pub use plug::{Branch as PlugBranch, Plug};
pub use power_stage::{OutputCapacitor, PowerStage};
pub use rating::{DischargePoint, Rating, RatingLoad};
pub use regulator::{Enable, Loss, Regulator, Setpoint, Topology, WhenOff};
pub use resistor::Resistor;
pub use supply::{Port, Supply};
pub use switch::{Action, Position, Switch};
