//! The temperature around a board over its life: the same for ever, or a calendar of months whose
//! days have a cold and a warm half.
//!
//! Each month has its mean temperature, and the months repeat year after year. A day begins with its
//! night half, half of `day_night` below the mean, and ends with its day half, as much above: windows
//! of tasks, which open at t = 0, so meet the cold.

use crate::model::{Family, Months};
use crate::quantity::{DAY_SECS, MONTH_SECS, Temperature};

/// Temperatures around a board over its life.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Climate<'a> {
    /// One temperature for ever.
    Steady(Temperature),
    /// Month after month, from the month of first use on.
    Calendar(&'a Months),
}

impl<'a> Climate<'a> {
    /// What a family calls usual: its calendar where it has one, else its usual ambient.
    #[must_use]
    pub fn usual(family: &'a Family) -> Self {
        let ambient = &family.requirement.ambient;
        let calendar = ambient.monthly.as_ref().map(Self::Calendar);
        calendar.unwrap_or(Self::Steady(ambient.usual))
    }

    /// The one temperature, or the mean over the year.
    #[must_use]
    pub fn mean(&self) -> Temperature {
        match self {
            Self::Steady(at) => *at,
            Self::Calendar(months) => {
                Temperature::from_celsius(months.celsius.iter().sum::<f64>() / 12.0)
            }
        }
    }

    /// The calendar, where there is one.
    #[must_use]
    pub fn months(&self) -> Option<&'a Months> {
        match self {
            Self::Steady(_) => None,
            Self::Calendar(months) => Some(months),
        }
    }
}

impl From<Temperature> for Climate<'_> {
    fn from(at: Temperature) -> Self {
        Self::Steady(at)
    }
}

/// Which half of a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Half {
    /// The first and colder one.
    Night,
    /// The second and warmer one.
    Day,
}

/// How a day is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Days {
    /// Not at all.
    Even,
    /// Into a night and a day.
    Halves,
}

/// Length of a day in nanoseconds.
pub(crate) const DAY_NS: u64 = DAY_SECS as u64 * 1_000_000_000;

/// The distinct temperatures of a climate and when each of them holds.
#[derive(Debug, Clone)]
pub(crate) struct Course {
    /// In degrees Celsius, rising.
    pub(crate) celsius: Vec<f64>,
    /// Places of the temperatures of night and day, by month of use.
    places: Vec<[usize; 2]>,
    pub(crate) days: Days,
}

impl Course {
    pub(crate) fn new(climate: Climate) -> Self {
        let Some(months) = climate.months() else {
            return Self {
                celsius: vec![climate.mean().as_celsius()],
                places: vec![[0; 2]],
                days: Days::Even,
            };
        };
        let half = months.day_night.as_kelvin() / 2.0;
        let year = (0..12).map(|k| months.celsius[(months.start + k) % 12]);
        let year: Vec<[f64; 2]> = year.map(|mean| [mean - half, mean + half]).collect();
        let mut celsius: Vec<f64> = year.iter().flatten().copied().collect();
        celsius.sort_by(f64::total_cmp);
        celsius.dedup();
        let place = |at: f64| celsius.iter().position(|&c| c == at).unwrap_or(0);
        let mut places: Vec<[usize; 2]> = year.iter().map(|m| m.map(place)).collect();
        // Twelve equal months are one that never ends.
        places.dedup();
        if places.len() > 1 {
            places = year.iter().map(|m| m.map(place)).collect();
        }
        Self {
            days: if half > 0.0 { Days::Halves } else { Days::Even },
            celsius,
            places,
        }
    }

    /// Place of the temperature in a half of a day of a month of use.
    pub(crate) fn place(&self, month: usize, half: Half) -> usize {
        self.places[month % self.places.len()][half as usize]
    }

    /// When a month of use ends; never where all are alike.
    pub(crate) fn month_end_secs(&self, month: usize) -> f64 {
        if self.places.len() > 1 {
            (month + 1) as f64 * MONTH_SECS
        } else {
            f64::INFINITY
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::TemperatureDifference;

    fn months(day_night: f64) -> Months {
        let mut celsius = [0.0; 12];
        for (at, month) in celsius.iter_mut().enumerate() {
            *month = if at < 6 { 5.0 } else { at as f64 };
        }
        Months {
            celsius,
            start: 9,
            day_night: TemperatureDifference::from_kelvin(day_night),
        }
    }

    #[test]
    fn a_course_starts_in_its_month_and_comes_round_after_a_year() {
        let months = months(4.0);
        let course = Course::new(Climate::Calendar(&months));
        let celsius = |month, half| course.celsius[course.place(month, half)];
        assert_eq!(celsius(0, Half::Night), 7.0);
        assert_eq!(celsius(0, Half::Day), 11.0);
        assert_eq!(celsius(3, Half::Night), 3.0);
        assert_eq!(celsius(12, Half::Day), 11.0);
        assert_eq!(course.month_end_secs(2), 3.0 * MONTH_SECS);
    }

    #[test]
    fn equal_months_never_end() {
        let mut same = months(0.0);
        same.celsius = [8.0; 12];
        let course = Course::new(Climate::Calendar(&same));
        assert_eq!(course.celsius, [8.0]);
        assert_eq!(course.days, Days::Even);
        assert_eq!(course.month_end_secs(0), f64::INFINITY);
    }
}
