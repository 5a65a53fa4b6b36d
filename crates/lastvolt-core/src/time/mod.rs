//! What happens over time: schedules of loads, the life of a board and where its energy goes.

mod align;
mod end;
mod engine;
mod leap;
mod life;
mod margin;
mod panel;
mod port;
mod prepared;
mod ripple;
mod run;
mod schedule;
mod shares;
mod site;
mod step;
mod table;
mod trace;
mod window;

pub use life::{Cause, ColdNight, End, Life, LifeRequest, RailTrace, Trace, life};
pub use prepared::Prepared;
