//! Times of logs: numbers, `hh:mm:ss`, or dates with times after ISO 8601.

use lastvolt_core::quantity::DAY_SECS;

/// How a time is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    /// A number, in the unit of its column.
    Number,
    /// Hours, minutes and seconds.
    Clock,
    /// A date with a time.
    Stamp,
}

impl Form {
    /// What it is called in messages.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Number => "a number",
            Self::Clock => "`hh:mm:ss`",
            Self::Stamp => "a date with a time",
        }
    }
}

/// Seconds since some start, where the text is `hh:mm:ss` or a date with a time.
pub(super) fn moment(text: &str) -> Option<(f64, Form)> {
    let text = text.trim();
    if !text.is_ascii() {
        return None;
    }
    if let Some(secs) = clock(text) {
        return Some((secs, Form::Clock));
    }
    let (date, time) = text.split_once(['T', ' '])?;
    let (time, offset) = zone(time.trim())?;
    let day = days(date)?;
    Some((day * DAY_SECS + clock(time)? - offset, Form::Stamp))
}

/// `hh:mm:ss`, `hh:mm` or `hh:mm:ss.sss`; hours may go beyond a day.
fn clock(text: &str) -> Option<f64> {
    let mut parts = text.split(':');
    let hours = whole(parts.next()?)?;
    let minutes = whole(parts.next()?)?;
    let secs = match parts.next() {
        Some(text) if text.starts_with(|c: char| c.is_ascii_digit()) => {
            text.replace(',', ".").parse::<f64>().ok()?
        }
        Some(_) => return None,
        None => 0.0,
    };
    let fits = parts.next().is_none() && minutes < 60.0 && secs < 61.0;
    fits.then_some(hours * 3600.0 + minutes * 60.0 + secs)
}

/// A time without its zone, and the seconds that the zone is ahead.
fn zone(time: &str) -> Option<(&str, f64)> {
    if let Some(time) = time.strip_suffix(['Z', 'z']) {
        return Some((time.trim(), 0.0));
    }
    let Some(at) = time.rfind(['+', '-']) else {
        return Some((time, 0.0));
    };
    let digits = time[at + 1..].replace(':', "");
    let number = whole(&digits)?;
    let (hours, minutes) = match digits.len() {
        2 => (number, 0.0),
        4 => ((number / 100.0).floor(), number % 100.0),
        _ => return None,
    };
    let ahead = hours * 3600.0 + minutes * 60.0;
    let sign = if time[at..].starts_with('-') {
        -1.0
    } else {
        1.0
    };
    Some((time[..at].trim(), sign * ahead))
}

/// Days since 1970-01-01 of `2024-05-01` or `2024/05/01`.
fn days(date: &str) -> Option<f64> {
    let mut parts = date.split(['-', '/']);
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    if year.len() != 4 || parts.next().is_some() {
        return None;
    }
    let (year, month, day) = (whole(year)?, whole(month)?, whole(day)?);
    if !(1.0..=12.0).contains(&month) || !(1.0..=days_of(year, month)).contains(&day) {
        return None;
    }
    // Years that begin in March, so that the leap day is the last of its year.
    let (year, month) = if month <= 2.0 {
        (year - 1.0, month + 9.0)
    } else {
        (year, month - 3.0)
    };
    let leaps = (year / 4.0).floor() - (year / 100.0).floor() + (year / 400.0).floor();
    let before = ((153.0 * month + 2.0) / 5.0).floor();
    Some(year * 365.0 + leaps + before + day - 1.0 - 719_468.0)
}

fn days_of(year: f64, month: f64) -> f64 {
    let leap = year % 4.0 == 0.0 && (year % 100.0 != 0.0 || year % 400.0 == 0.0);
    match month {
        2.0 if leap => 29.0,
        2.0 => 28.0,
        4.0 | 6.0 | 9.0 | 11.0 => 30.0,
        _ => 31.0,
    }
}

fn whole(text: &str) -> Option<f64> {
    let digits = !text.is_empty() && text.len() < 10 && text.bytes().all(|b| b.is_ascii_digit());
    if digits { text.parse().ok() } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamp(text: &str) -> f64 {
        match moment(text) {
            Some((secs, Form::Stamp)) => secs,
            other => panic!("{text}: {other:?}"),
        }
    }

    #[test]
    fn clocks_count_hours_beyond_a_day() {
        assert_eq!(moment("00:01:30"), Some((90.0, Form::Clock)));
        assert_eq!(moment("100:00:00.5"), Some((360_000.5, Form::Clock)));
        assert_eq!(moment("12:30"), Some((45_000.0, Form::Clock)));
        for bad in ["12", "12:60:00", "1:2:3:4", "a:b", ":", "12:00:-1", ""] {
            assert_eq!(moment(bad), None, "{bad}");
        }
    }

    #[test]
    fn dates_count_leap_days_and_zones() {
        assert_eq!(stamp("1970-01-01T00:00:00Z"), 0.0);
        assert_eq!(stamp("2000-03-01 00:00"), 951_868_800.0);
        assert_eq!(
            stamp("2024-03-01 00:00") - stamp("2024-02-28 00:00"),
            2.0 * DAY_SECS
        );
        assert_eq!(
            stamp("2023-03-01 00:00") - stamp("2023-02-28 00:00"),
            DAY_SECS
        );
        assert_eq!(
            stamp("2024-05-01T12:00:00+02:00"),
            stamp("2024-05-01T10:00:00Z")
        );
        assert_eq!(
            stamp("2024/05/01 12:00:00.25"),
            stamp("2024-05-01T12:00:00") + 0.25
        );
        for bad in [
            "2023-02-29 00:00",
            "01.05.2024 12:00",
            "2024-13-01 00:00",
            "5/1/2024 12:00",
        ] {
            assert_eq!(moment(bad), None, "{bad}");
        }
    }
}
