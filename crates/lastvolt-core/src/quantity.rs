//! Physical quantities as types over `f64` in SI units.
//!
//! A quantity type names what is measured, its constructor and getter name the unit, as
//! `std::time::Duration` does. Inside numerical kernels plain `f64` with a unit in the name is used.

use std::fmt::Debug;

/// What a value is measured in; every value is held in this unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unit {
    /// Electric potential difference.
    Volt,
    /// Electric current.
    Ampere,
    /// Electric resistance.
    Ohm,
    /// Capacitance.
    Farad,
    /// Inductance.
    Henry,
    /// Time span.
    Second,
    /// Frequency.
    Hertz,
    /// Power.
    Watt,
    /// Energy.
    Joule,
    /// Electric charge.
    Coulomb,
    /// Temperature in degrees Celsius.
    Celsius,
    /// Difference of two temperatures in kelvin.
    Kelvin,
    /// Temperature difference for each watt.
    KelvinPerWatt,
    /// A share of one.
    Fraction,
    /// A rate of change, per second.
    PerSecond,
    /// Mass.
    Kilogram,
    /// Length.
    Metre,
}

impl Unit {
    /// The symbol printed behind a value.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Volt => "V",
            Self::Ampere => "A",
            Self::Ohm => "ohm",
            Self::Farad => "F",
            Self::Henry => "H",
            Self::Second => "s",
            Self::Hertz => "Hz",
            Self::Watt => "W",
            Self::Joule => "J",
            Self::Coulomb => "C",
            Self::Celsius => "degC",
            Self::Kelvin => "K",
            Self::KelvinPerWatt => "K/W",
            Self::Fraction => "",
            Self::PerSecond => "/s",
            Self::Kilogram => "kg",
            Self::Metre => "m",
        }
    }

    /// What the unit measures, as a noun for messages.
    #[must_use]
    pub fn measures(self) -> &'static str {
        match self {
            Self::Volt => "a voltage",
            Self::Ampere => "a current",
            Self::Ohm => "a resistance",
            Self::Farad => "a capacitance",
            Self::Henry => "an inductance",
            Self::Second => "a time",
            Self::Hertz => "a frequency",
            Self::Watt => "a power",
            Self::Joule => "an energy",
            Self::Coulomb => "a charge",
            Self::Celsius => "a temperature",
            Self::Kelvin => "a temperature difference",
            Self::KelvinPerWatt => "a thermal resistance",
            Self::Fraction => "a share",
            Self::PerSecond => "a rate",
            Self::Kilogram => "a mass",
            Self::Metre => "a length",
        }
    }
}

/// A physical quantity held in its SI unit (temperatures in degrees Celsius).
pub trait Quantity: Copy + PartialEq + PartialOrd + Debug + 'static {
    /// The unit of the value.
    const UNIT: Unit;
    /// The quantity of the given value in [`Self::UNIT`].
    fn from_si(value: f64) -> Self;
    /// The value in [`Self::UNIT`].
    fn si(self) -> f64;
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:ident, $from:ident, $as:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// The quantity of this many units.
            #[must_use]
            pub const fn $from(value: f64) -> Self {
                Self(value)
            }

            /// The value in this unit.
            #[must_use]
            pub const fn $as(self) -> f64 {
                self.0
            }
        }

        impl Quantity for $name {
            const UNIT: Unit = Unit::$unit;

            fn from_si(value: f64) -> Self {
                Self(value)
            }

            fn si(self) -> f64 {
                self.0
            }
        }
    };
}

quantity!(/// Electric potential difference.
    Voltage, Volt, from_volts, as_volts);
quantity!(/// Electric current.
    Current, Ampere, from_amps, as_amps);
quantity!(/// Electric resistance.
    Resistance, Ohm, from_ohms, as_ohms);
quantity!(/// Capacitance.
    Capacitance, Farad, from_farads, as_farads);
quantity!(/// Inductance.
    Inductance, Henry, from_henries, as_henries);
quantity!(/// Time span.
    Time, Second, from_secs, as_secs);
quantity!(/// Frequency.
    Frequency, Hertz, from_hertz, as_hertz);
quantity!(/// Power.
    Power, Watt, from_watts, as_watts);
quantity!(/// Energy.
    Energy, Joule, from_joules, as_joules);
quantity!(/// Electric charge.
    Charge, Coulomb, from_coulombs, as_coulombs);
quantity!(/// Temperature.
    Temperature, Celsius, from_celsius, as_celsius);
quantity!(/// Difference of two temperatures.
    TemperatureDifference, Kelvin, from_kelvin, as_kelvin);
quantity!(/// Temperature difference for each watt.
    ThermalResistance, KelvinPerWatt, from_kelvin_per_watt, as_kelvin_per_watt);
quantity!(/// A share of one.
    Fraction, Fraction, from_share, as_share);
quantity!(/// A rate of change.
    Rate, PerSecond, from_per_sec, as_per_sec);
quantity!(/// Mass.
    Mass, Kilogram, from_kilograms, as_kilograms);
quantity!(/// Length.
    Length, Metre, from_metres, as_metres);

/// Seconds of a day.
pub const DAY_SECS: f64 = 86_400.0;
/// Seconds of a year of 365.25 days.
pub const YEAR_SECS: f64 = 365.25 * DAY_SECS;
/// Seconds of a month, a twelfth of a year.
pub const MONTH_SECS: f64 = YEAR_SECS / 12.0;

/// A value as data sheets give it: typical, with limits where they are stated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread<Q> {
    /// Lowest value, where stated.
    pub min: Option<Q>,
    /// Typical value.
    pub typ: Q,
    /// Highest value, where stated.
    pub max: Option<Q>,
}

impl<Q: Quantity> Spread<Q> {
    /// A value without stated limits.
    #[must_use]
    pub const fn exactly(typ: Q) -> Self {
        Self {
            min: None,
            typ,
            max: None,
        }
    }

    /// The typical value in SI units.
    #[must_use]
    pub fn si(&self) -> f64 {
        self.typ.si()
    }

    /// The lowest stated value in SI units, or the typical one.
    #[must_use]
    pub fn low(&self) -> f64 {
        self.min.unwrap_or(self.typ).si()
    }

    /// The highest stated value in SI units, or the typical one.
    #[must_use]
    pub fn high(&self) -> f64 {
        self.max.unwrap_or(self.typ).si()
    }
}

/// What a larger value of a property does to the charge that a board draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bearing {
    /// A larger value drains the cells faster: leakages, quiescent and sleep currents.
    Drain,
    /// A smaller value drains the cells faster: the breakdown of a clamp across them.
    Hold,
    /// Anything else.
    Other,
}

/// Walks over the adjustable properties of a device or load, one call a property.
///
/// This is the one way in which tolerances, corners, exchange rates and edits reach a value: the
/// key is the one written in the files, with a dotted path for nested tables (`quiescent.in`).
pub trait Properties {
    /// Offers one property.
    fn spread<Q: Quantity>(&mut self, key: &str, bearing: Bearing, value: &mut Spread<Q>);
}
