//! What happens over time: schedules of loads, the life of a board and where its energy goes.

mod after;
mod align;
mod apart;
mod burst;
mod climate;
mod course;
mod end;
mod engine;
mod film;
mod films;
mod land;
mod leap;
mod life;
mod margin;
mod notice;
mod occurrence;
mod panel;
mod port;
mod ports;
mod prepared;
mod restart;
mod ripple;
mod run;
mod schedule;
mod shares;
mod site;
mod step;
mod sums;
mod swing;
mod table;
mod trace;
mod window;

pub use burst::{
    Begin, BurstRequest, Change, Closely, Edge, Followed, Happening, HappeningKind, Hiccup, Inrush,
    Lowest, NeedSeen, NoWave, Occasion, Question, Stretch, Waveform, burst, burst_closely,
    concerns, deepest_task, off_position, plan_of_tasks, rested,
};
pub use climate::Climate;
pub(crate) use climate::Days;
pub(crate) use life::life_from;
pub use life::{
    Bursts, Calendar, Cause, ColdNight, End, Life, LifeRequest, RailTrace, Shelf, Trace, life,
};
pub use notice::{Node, Notice, RESOLVED_VOLTS, Signal, When, notice};
pub(crate) use ports::KnownPorts;
pub use prepared::Prepared;
pub use restart::{Hang, Restart, Restarts, restart, restarts};
pub(crate) use run::HORIZON_SECS;
pub(crate) use schedule::Schedule;
