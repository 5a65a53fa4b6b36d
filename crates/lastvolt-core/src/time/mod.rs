//! What happens over time: schedules of loads, the life of a board and where its energy goes.

mod align;
mod burst;
mod end;
mod engine;
mod leap;
mod life;
mod margin;
mod panel;
mod port;
mod ripple;
mod run;
mod schedule;
mod shares;
mod site;
mod step;
mod table;
mod trace;
mod window;

pub use burst::{
    Begin, BurstRequest, Change, Edge, Followed, Happening, HappeningKind, Hiccup, Inrush, Lowest,
    NeedSeen, NoWave, Occasion, Question, Stretch, Waveform, burst, concerns, deepest_task,
    off_position, plan_of_tasks, rested,
};
pub use life::{Cause, ColdNight, End, Life, LifeRequest, RailTrace, Trace, life};
