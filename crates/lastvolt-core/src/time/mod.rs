//! What happens over time: schedules of loads, the life of a board and where its energy goes.

mod life;

pub use life::{Cause, ColdNight, End, Life, LifeRequest, RailTrace, Trace, life};
