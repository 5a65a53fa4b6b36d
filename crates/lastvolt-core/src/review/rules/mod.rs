//! The rules, one file each. Adding one is a file here and a line in [`RULES`].

mod brown_out;
mod burst_capacity;
mod capacitor_rating;
mod cautions;
mod floating_control;
mod idle_thief;
mod life_short;
mod off_leak;
mod open_pin;
mod output_error;
mod over_voltage;
mod protection_drop;
mod pull_resistor;
mod reversed_cell;
mod switch_duty;
mod will_not_restart;

use crate::review::{Evidence, Finding, RuleId, Stack, Whole};

/// One thing that a review looks for: about boards on their own, about boards plugged together, about
/// the family as a whole. Most rules do one of these.
pub trait Rule: Sync {
    /// Its name.
    fn id(&self) -> RuleId;
    /// What it has to say about a board.
    fn look(&self, _e: &Evidence) -> Vec<Finding> {
        Vec::new()
    }
    /// What it has to say about boards that are plugged together.
    fn look_at_stack(&self, _s: &Stack) -> Vec<Finding> {
        Vec::new()
    }
    /// What it has to say about the family.
    fn look_at_family(&self, _w: &Whole) -> Vec<Finding> {
        Vec::new()
    }
}

/// Every rule.
pub const RULES: &[&dyn Rule] = &[
    &floating_control::FloatingControl,
    &pull_resistor::PullResistor,
    &reversed_cell::ReversedCell,
    &protection_drop::ProtectionDrop,
    &brown_out::BrownOut,
    &burst_capacity::BurstCapacity,
    &over_voltage::OverVoltage,
    &will_not_restart::WillNotRestart,
    &off_leak::OffLeak,
    &idle_thief::IdleThief,
    &output_error::OutputError,
    &capacitor_rating::CapacitorRating,
    &open_pin::OpenPin,
    &life_short::LifeShort,
    &switch_duty::SwitchDuty,
    &cautions::Cautions,
];
