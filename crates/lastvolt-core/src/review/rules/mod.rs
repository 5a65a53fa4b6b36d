//! The rules, one file each. Adding one is a file here and a line in [`RULES`].

mod brown_out;
mod burst_capacity;
mod capacitor_rating;
pub mod cautions;
mod cell_charged;
mod cell_rate;
mod converter_limit;
mod converter_not_needed;
mod deep_discharge;
mod deliver_short;
mod floating_control;
mod hiccup;
mod hot_plug;
mod idle_thief;
mod indicator;
mod life_short;
mod low_battery_blind;
mod no_reset_after_off;
mod off_leak;
mod open_pin;
mod output_error;
mod over_voltage;
mod parts_spread;
mod protection_drop;
mod pull_resistor;
mod reversed_cell;
mod ripple;
mod shelf_limit;
mod sources_fight;
mod switch_duty;
mod temperature_range;
mod thermal;
mod usb_limits;
mod weak_cell;
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

/// Name of the rule whose findings are warnings for label and manual.
pub const CAUTIONS: RuleId = "cautions";

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
    &cell_rate::CellRate,
    &shelf_limit::ShelfLimit,
    &deep_discharge::DeepDischarge,
    &weak_cell::WeakCell,
    &low_battery_blind::LowBatteryBlind,
    &hiccup::Hiccup,
    &no_reset_after_off::NoResetAfterOff,
    &indicator::Indicator,
    &thermal::Thermal,
    &temperature_range::TemperatureRange,
    &parts_spread::PartsSpread,
    &converter_not_needed::ConverterNotNeeded,
    &converter_limit::ConverterLimit,
    &deliver_short::DeliverShort,
    &ripple::Ripple,
    &hot_plug::HotPlug,
    &usb_limits::UsbLimits,
    &cell_charged::CellCharged,
    &sources_fight::SourcesFight,
    &switch_duty::SwitchDuty,
    &cautions::Cautions,
];
