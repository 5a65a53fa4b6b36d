//! Preferred values: which resistor, capacitor or inductor value one can buy.
//!
//! # Formula
//! ```text
//! member n of E48, E96, E192:  10^(n/N) rounded to three figures, but 9.20 for n = 185 of 192
//! E3, E6, E12, E24:            two-figure values, eight of which differ from the formula
//! ```
//!
//! # References
//! IEC 60063:2015, preferred number series for resistors and capacitors.

use crate::numerics::math;

/// One of the series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Series {
    /// Three values a decade.
    E3,
    /// Six values a decade, 20 %.
    E6,
    /// Twelve values a decade, 10 %.
    E12,
    /// Twenty-four values a decade, 5 %.
    E24,
    /// Forty-eight values a decade, 2 %.
    E48,
    /// Ninety-six values a decade, 1 %.
    E96,
    /// One hundred and ninety-two values a decade, 0.5 % and better.
    E192,
}

/// The historic series: IEC 60063:2015, table for E24; E12, E6 and E3 are every second of the one above.
const E24: [u32; 24] = [
    100, 110, 120, 130, 150, 160, 180, 200, 220, 240, 270, 300, 330, 360, 390, 430, 470, 510, 560,
    620, 680, 750, 820, 910,
];

impl Series {
    /// The values of one decade, from 100 to below 1000, rising.
    #[must_use]
    pub fn decade(self) -> Vec<u32> {
        match self {
            Self::E3 => E24.iter().copied().step_by(8).collect(),
            Self::E6 => E24.iter().copied().step_by(4).collect(),
            Self::E12 => E24.iter().copied().step_by(2).collect(),
            Self::E24 => E24.to_vec(),
            Self::E48 => (0..192).step_by(4).map(three_figures).collect(),
            Self::E96 => (0..192).step_by(2).map(three_figures).collect(),
            Self::E192 => (0..192).map(three_figures).collect(),
        }
    }

    /// The value of the series nearest to `x`, which is above 0, by ratio.
    #[must_use]
    pub fn nearest(self, x: f64) -> f64 {
        let (below, above) = self.around(x);
        // Halfway by ratio is the geometric mean.
        if x * x <= below * above { below } else { above }
    }

    /// The largest value of the series that is at most `x`, which is above 0.
    #[must_use]
    pub fn at_most(self, x: f64) -> f64 {
        let (below, above) = self.around(x);
        if above <= x * (1.0 + ROUNDING) {
            above
        } else {
            below
        }
    }

    /// The smallest value of the series that is at least `x`, which is above 0.
    #[must_use]
    pub fn at_least(self, x: f64) -> f64 {
        let (below, above) = self.around(x);
        if below >= x * (1.0 - ROUNDING) {
            below
        } else {
            above
        }
    }

    /// The neighbours of `x` in the series: the largest not above it and the one after.
    fn around(self, x: f64) -> (f64, f64) {
        let power = math::log10(x).floor();
        let decade = self.decade();
        let scale = |figures: u32, decades: f64| {
            // 4700 must come out as 4700: dividing by a whole power of ten rounds once only.
            let exponent = power + decades - 2.0;
            let ten = math::pow(10.0, exponent.abs());
            if exponent < 0.0 {
                f64::from(figures) / ten
            } else {
                f64::from(figures) * ten
            }
        };
        let mut below = scale(*decade.last().unwrap_or(&100), -1.0);
        for figures in decade.iter().copied() {
            let value = scale(figures, 0.0);
            if x < value {
                return (below, value);
            }
            below = value;
        }
        (below, scale(100, 1.0))
    }
}

/// Relative difference that is rounding of the arithmetic and not another value.
const ROUNDING: f64 = 1e-9;

/// Member `n` of E192 in three figures.
fn three_figures(n: u32) -> u32 {
    if n == 185 {
        // The one member that differs from the formula, which gives 919: IEC 60063:2015.
        return 920;
    }
    let exact = 100.0 * math::pow(10.0, f64::from(n) / 192.0);
    let mut whole = 100;
    while f64::from(whole) + 0.5 <= exact {
        whole += 1;
    }
    whole
}

#[cfg(test)]
mod tests {
    use super::*;

    /// EN01 to EN03: IEC 60063.
    #[test]
    fn ref_iec_60063_series() {
        assert_eq!(Series::E24.decade().len(), 24);
        let rounded = |n: u32| 10.0 * (10.0 * libm::pow(10.0, f64::from(n) / 24.0)).round();
        let differing: Vec<(u32, f64)> = (0..24)
            .zip(Series::E24.decade())
            .map(|(n, value)| (value, rounded(n)))
            .filter(|(value, formula)| (f64::from(*value) - formula).abs() > 0.1)
            .collect();
        let published = [
            (270, 260.0),
            (300, 290.0),
            (330, 320.0),
            (360, 350.0),
            (390, 380.0),
            (430, 420.0),
            (470, 460.0),
            (820, 830.0),
        ];
        assert_eq!(differing, published);
        assert_eq!(Series::E192.decade()[185], 920);
        assert_eq!(Series::E192.decade().len(), 192);
    }

    /// IEC 60063: listed members of E48, E96 and E192.
    #[test]
    fn ref_iec_60063_members() {
        let e48 = Series::E48.decade();
        assert_eq!(e48[..8], [100, 105, 110, 115, 121, 127, 133, 140]);
        assert_eq!(e48[40..], [681, 715, 750, 787, 825, 866, 909, 953]);
        let e96 = Series::E96.decade();
        assert_eq!(e96[48..56], [316, 324, 332, 340, 348, 357, 365, 374]);
        assert_eq!(e96[95], 976);
        let e192 = Series::E192.decade();
        assert_eq!(e192[..8], [100, 101, 102, 104, 105, 106, 107, 109]);
        assert_eq!(e192[184..], [909, 920, 931, 942, 953, 965, 976, 988]);
    }

    /// EN04 to EN07: IEC 60063, TI SLVA450B and SLVA535B.
    #[test]
    fn ref_slva450b_nearest_values() {
        let cases = [
            (330.0, 332.0),
            (187_579.0, 187_000.0),
            (1_184_330.0, 1_180_000.0),
            (508_900.0, 511_000.0),
        ];
        for (target, published) in cases {
            assert_eq!(Series::E96.nearest(target), published, "for {target}");
        }
    }

    #[test]
    fn bounds_keep_a_member_as_it_is_and_step_over_decades() {
        for exact in [1e-6, 4.7e-3, 1.0, 9.1, 390.0, 4700.0, 1e6] {
            assert!((Series::E24.at_most(exact) / exact - 1.0).abs() < 1e-12);
            assert!((Series::E24.at_least(exact) / exact - 1.0).abs() < 1e-12);
        }
        assert_eq!(Series::E12.at_most(395e3), 390e3);
        assert_eq!(Series::E12.at_least(395e3), 470e3);
        assert_eq!(Series::E24.at_least(920.0), 1000.0);
        assert_eq!(Series::E3.at_most(99.0), 47.0);
        assert_eq!(Series::E96.nearest(990.0), 1000.0);
    }
}
