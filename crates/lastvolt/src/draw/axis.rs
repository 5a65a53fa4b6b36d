//! Axes: round steps, a map from values to places, and the units in which values read well.

use lastvolt_core::quantity::{DAY_SECS, MONTH_SECS, YEAR_SECS};

/// A straight map from values to places.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    from: f64,
    to: f64,
    start: f64,
    end: f64,
}

impl Scale {
    /// Values `from` to `to` lie at places `start` to `end`.
    pub(crate) fn new((from, to): (f64, f64), (start, end): (f64, f64)) -> Self {
        let to = if to > from { to } else { from + 1.0 };
        Self {
            from,
            to,
            start,
            end,
        }
    }

    pub(crate) fn at(&self, value: f64) -> f64 {
        self.start + (value - self.from) / (self.to - self.from) * (self.end - self.start)
    }

    /// Round multiples of a unit, about so many, counted in it.
    pub(crate) fn ticks_of(&self, per: f64, about: f64) -> Vec<f64> {
        let counted = Self {
            from: self.from / per,
            to: self.to / per,
            ..*self
        };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a few ticks"
        )]
        let about = about.clamp(1.0, 20.0) as usize;
        counted.ticks(about)
    }

    /// Round values, about so many.
    pub(crate) fn ticks(&self, about: usize) -> Vec<f64> {
        let step = round_step((self.to - self.from) / about.max(1) as f64);
        let first = (self.from / step - 1e-9).ceil();
        let last = (self.to / step + 1e-9).floor();
        let mut ticks = Vec::new();
        let mut k = first;
        // Adding zero turns -0 into 0.
        while k <= last && ticks.len() < 50 {
            ticks.push(k * step + 0.0);
            k += 1.0;
        }
        ticks
    }
}

/// 1, 2 or 5 times a power of ten, at least this large.
fn round_step(least: f64) -> f64 {
    let decade = 10f64.powf(least.max(1e-30).log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|s| s * decade);
    steps
        .into_iter()
        .find(|s| *s >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * decade)
}

/// In what an axis counts: how much one of it is, and what it is called.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Counts {
    pub(crate) per: f64,
    pub(crate) name: String,
}

impl Counts {
    fn new(per: f64, name: &str) -> Self {
        Self {
            per,
            name: name.to_owned(),
        }
    }

    /// Of a span of time.
    pub(crate) fn time(secs: f64) -> Self {
        match secs {
            s if s < 2e-6 => Self::new(1e-9, "ns"),
            s if s < 2e-3 => Self::new(1e-6, "µs"),
            s if s < 2.0 => Self::new(1e-3, "ms"),
            s if s < 300.0 => Self::new(1.0, "s"),
            s if s < 7200.0 => Self::new(60.0, "minutes"),
            s if s < 2.0 * DAY_SECS => Self::new(3600.0, "hours"),
            s if s < 3.0 * MONTH_SECS => Self::new(DAY_SECS, "days"),
            s if s < 3.0 * YEAR_SECS => Self::new(MONTH_SECS, "months"),
            _ => Self::new(YEAR_SECS, "years"),
        }
    }

    /// Of a quantity whose unit takes prefixes, by the largest value that is shown.
    pub(crate) fn of(most: f64, symbol: &str) -> Self {
        let (per, prefix) = match most.abs() {
            m if m < 1.5e-9 => (1e-12, "p"),
            m if m < 1.5e-6 => (1e-9, "n"),
            m if m < 1.5e-3 => (1e-6, "µ"),
            m if m < 1.5 => (1e-3, "m"),
            m if m < 1.5e3 => (1.0, ""),
            m if m < 1.5e6 => (1e3, "k"),
            _ => (1e6, "M"),
        };
        Self {
            per,
            name: format!("{prefix}{symbol}"),
        }
    }
}

/// Ticks in words, with as many digits as tell them apart.
pub(crate) fn words_of(ticks: &[f64]) -> Vec<String> {
    let step = ticks.windows(2).map(|w| w[1] - w[0]).fold(1.0, f64::min);
    let digits = (-step.max(1e-12).log10() - 1e-9).ceil().clamp(0.0, 12.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to a few digits"
    )]
    let digits = digits as usize;
    let each = ticks.iter().map(|t| {
        let text = format!("{t:.digits$}");
        let text = match text.contains('.') {
            true => text.trim_end_matches('0').trim_end_matches('.'),
            false => &text,
        };
        match text.strip_prefix('-') {
            Some("0") => "0".to_owned(),
            Some(rest) => format!("\u{2212}{rest}"),
            None => text.to_owned(),
        }
    });
    each.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        let scale = Scale::new((1.73, 3.31), (0.0, 100.0));
        let ticks = scale.ticks(5);
        assert_eq!(ticks.len(), 3);
        assert!((ticks[0] - 2.0).abs() < 1e-12 && (ticks[2] - 3.0).abs() < 1e-12);
        assert!((scale.at(3.31) - 100.0).abs() < 1e-12);
    }

    #[test]
    fn ticks_that_lie_close_get_digits_that_tell_them_apart() {
        let ticks = Scale::new((2.0, 2.001), (0.0, 100.0)).ticks(4);
        let mut words = words_of(&ticks);
        let all = words.len();
        words.dedup();
        assert_eq!(words.len(), all, "{words:?}");
        assert_eq!(words_of(&[-0.5, 0.0, 0.5]), ["\u{2212}0.5", "0", "0.5"]);
        assert_eq!(words_of(&[0.0, 100.0, 200.0]), ["0", "100", "200"]);
    }

    #[test]
    fn an_axis_counts_in_what_reads_well() {
        assert_eq!(Counts::of(0.02, "A").name, "mA");
        assert_eq!(Counts::time(2.0).name, "s");
        assert_eq!(Counts::time(100.0 * YEAR_SECS).name, "years");
    }
}
