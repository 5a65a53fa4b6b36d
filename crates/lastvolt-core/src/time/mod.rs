//! What happens over time: schedules of loads, the life of a board and where its energy goes.

mod bank;
mod end;
mod life;
mod margin;
mod port;
mod ripple;
mod run;
mod schedule;

pub use life::{Cause, ColdNight, End, Life, LifeRequest, RailTrace, Trace};
pub use run::life;
