//! What is being engineered: a family of supply boards, their loads and what is asked of them.
//!
//! Plain data, valid once built: `lastvolt-input` checks what a person wrote before it builds one.

mod board;
mod change;
mod family;
mod load;
mod profile;

pub use board::{Board, Confidence, Device, Heat, Kind, Origin, Part, Pin};
pub use change::{Change, Corner, ModelError, PropertyId};
pub use family::{
    Accept, Ambient, Connector, Family, MONTH_NAMES, Months, RailPromise, Requirement,
};
pub use load::{BootStep, Drive, Law, Level, Load, LoadState, Reset, WorkingRange};
pub use profile::{Profile, Step, Task, Window};
