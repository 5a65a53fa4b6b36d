//! What each kind of part is made of: its parameters, its equations and its adjustable properties,
//! one file a kind. Knows nothing of nets.

mod capacitor;
mod cell;
mod detector;
mod diode;
mod fet;
mod film;
mod fuse;
mod ideal_diode;
mod inductor;
mod junction;
mod load_switch;
mod plug;
mod power_stage;
mod ptc;
mod rating;
mod regulator;
mod resistor;
mod supply;
mod switch;
mod zener;

pub use capacitor::{Capacitor, Dielectric};
pub use cell::{
    Activation, Branch, Cell, CellLimits, CellModel, CellSpread, CellState, CellTemperature,
    Charging, Holder, Reversal, Wells,
};
pub use detector::{Detector, OutputStage};
pub(crate) use diode::Fitted;
pub use diode::{Diode, Junction, Led};
pub use fet::{Channel, ChannelLaw, Fet};
pub use film::Film;
pub use fuse::Fuse;
pub use ideal_diode::IdealDiode;
pub use inductor::Inductor;
pub use load_switch::{Blocking, LoadSwitch};
pub use plug::{Branch as PlugBranch, Plug};
pub use power_stage::{OutputCapacitor, PowerStage};
pub use ptc::Ptc;
pub use rating::{DischargePoint, Rating, RatingLoad};
pub use regulator::{Enable, Loss, Regulator, Setpoint, Topology, WhenOff};
pub use resistor::Resistor;
pub use supply::{Port, Supply};
pub use switch::{Action, Position, Switch};
pub use zener::Zener;
