//! Axes: round steps and a map from values to places.

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

    /// Round values, about so many.
    pub(crate) fn ticks(&self, about: usize) -> Vec<f64> {
        let step = round_step((self.to - self.from) / about.max(1) as f64);
        let first = (self.from / step - 1e-9).ceil();
        let last = (self.to / step + 1e-9).floor();
        let mut ticks = Vec::new();
        let mut k = first;
        while k <= last && ticks.len() < 50 {
            ticks.push(k * step);
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
}
