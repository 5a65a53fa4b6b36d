//! The stretch of time that a picture shows, and the stretches beside it.

use crate::text::number::engineering;

/// Least stretch: steps in it are a quarter of a nanosecond, trips are found to a tenth.
const LEAST_SECS: f64 = 1e-7;
/// How far before the first instant a picture of everything begins, as a share of the whole.
const BEFORE: f64 = 0.04;

/// A stretch of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    pub(super) from: f64,
    pub(super) to: f64,
    /// By decades: a start is over within microseconds and a boot takes long.
    pub(super) decades: bool,
}

impl Stretch {
    /// All that was followed to an instant.
    pub(super) fn whole(end: f64) -> Self {
        let end = end.max(LEAST_SECS);
        Self {
            from: -BEFORE * end,
            to: end,
            decades: false,
        }
    }

    /// What a link states of it, within the whole; where it states nothing, the usual.
    pub(super) fn stated(shown: [Option<f64>; 2], usual: Self, end: f64) -> Self {
        let [from, to] = shown;
        if from.is_none() && to.is_none() {
            return usual;
        }
        let (from, to) = (from.unwrap_or(usual.from), to.unwrap_or(usual.to));
        Self::within((from.min(to), from.max(to)), end)
    }

    /// A stretch moved and cut so that it lies within the whole.
    fn within((from, to): (f64, f64), end: f64) -> Self {
        let whole = Self::whole(end);
        let span = (to - from).clamp(LEAST_SECS, whole.to - whole.from);
        let from = from.clamp(whole.from, whole.to - span);
        Self {
            from,
            to: from + span,
            decades: false,
        }
    }

    /// Whether both show the same, but for rounding.
    pub(super) fn is(self, other: Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-3 * self.span();
        self.decades == other.decades && near(self.from, other.from) && near(self.to, other.to)
    }

    pub(super) fn span(self) -> f64 {
        self.to - self.from
    }

    /// The instant at a share of the picture.
    pub(super) fn at(self, share: f64) -> f64 {
        let share = share.clamp(0.0, 1.0);
        if self.decades {
            let (from, to) = (self.from.log10(), self.to.log10());
            10f64.powf(from + share * (to - from))
        } else {
            self.from + share * self.span()
        }
    }

    /// The share of the picture at which an instant lies.
    pub(super) fn share(self, secs: f64) -> f64 {
        let share = if self.decades {
            let (from, to) = (self.from.log10(), self.to.log10());
            (secs.max(self.from).log10() - from) / (to - from)
        } else {
            (secs - self.from) / self.span()
        };
        share.clamp(0.0, 1.0)
    }

    /// The middle of it alone.
    pub(super) fn closer(self, end: f64) -> Self {
        Self::within((self.at(0.25), self.at(0.75)), end)
    }

    /// As much again on both sides.
    pub(super) fn wider(self, end: f64) -> Self {
        let half = 0.5 * self.span();
        Self::within((self.from - half, self.to + half), end)
    }

    /// The same length, moved by a share of it.
    pub(super) fn moved(self, share: f64, end: f64) -> Self {
        let by = share * self.span();
        Self::within((self.from + by, self.to + by), end)
    }

    /// Ends as links have them: to a thousandth of the stretch.
    pub(super) fn rounded(self) -> [Option<f64>; 2] {
        let digits = (3.0 - self.span().log10().floor()).clamp(0.0, 12.0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to a few digits"
        )]
        let digits = digits as usize;
        [self.from, self.to].map(|secs| format!("{secs:.digits$}").parse().ok())
    }
}

/// An instant to a thousandth of the stretch that is shown.
pub(super) fn instant_words(secs: f64, stretch: Stretch) -> String {
    let span = if stretch.decades {
        secs.abs()
    } else {
        stretch.span()
    };
    if secs.abs() < 0.5e-3 * span {
        return "0 s".to_owned();
    }
    let least = 1e-3 * span;
    let digits = (secs.abs() / least).log10().floor() + 1.0;
    if 60.0 <= secs.abs() {
        let after = (-least.log10().floor()).clamp(0.0, 6.0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to a few digits"
        )]
        let after = after as usize;
        return format!("{secs:.after$} s");
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to a few digits"
    )]
    let digits = digits.clamp(3.0, 12.0) as usize;
    engineering(secs, "s", digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn straight(from: f64, to: f64) -> Stretch {
        let decades = false;
        Stretch { from, to, decades }
    }

    #[test]
    fn a_stretch_of_a_link_lies_within_the_whole() {
        let usual = straight(-0.04, 1.0);
        let stated = |from, to| Stretch::stated([from, to], usual, 1.0);
        assert_eq!(stated(None, None), usual);
        assert_eq!(stated(Some(0.25), Some(0.5)), straight(0.25, 0.5));
        assert_eq!(stated(Some(0.5), Some(0.25)), straight(0.25, 0.5));
        assert_eq!(stated(Some(0.5), None), straight(0.5, 1.0));
        for (from, to) in [(-9.0, 9.0), (5.0, 6.0), (-6.0, -5.0), (0.5, 0.5)] {
            let found = stated(Some(from), Some(to));
            assert!(-0.04 <= found.from && found.to <= 1.0 + 1e-12, "{found:?}");
            assert!(0.99 * LEAST_SECS <= found.span(), "{found:?}");
        }
    }

    #[test]
    fn closer_and_wider_keep_the_middle() {
        let stretch = straight(0.2, 0.4);
        let near = stretch.closer(1.0);
        assert!(
            (near.from - 0.25).abs() < 1e-12 && (near.to - 0.35).abs() < 1e-12,
            "{near:?}"
        );
        let back = near.wider(1.0);
        assert!(
            (back.from - 0.2).abs() < 1e-12 && (back.to - 0.4).abs() < 1e-12,
            "{back:?}"
        );
        let right = stretch.moved(0.5, 1.0);
        assert!((right.from - 0.3).abs() < 1e-12, "{right:?}");
        // At the end it goes no further, and is as long as before.
        let last = straight(0.9, 1.0).moved(0.5, 1.0);
        assert!((last.from - 0.9).abs() < 1e-12, "{last:?}");
    }

    #[test]
    fn shares_and_instants_are_inverse_on_both_axes() {
        let decades = Stretch {
            from: 1e-7,
            to: 1e-1,
            decades: true,
        };
        for stretch in [straight(0.2, 0.4), decades] {
            for share in [0.0, 0.1, 0.5, 1.0] {
                let again = stretch.share(stretch.at(share));
                assert!((again - share).abs() < 1e-9, "{stretch:?} {share} {again}");
            }
        }
    }

    #[test]
    fn instants_have_the_digits_that_the_stretch_shows() {
        assert_eq!(
            instant_words(0.012_345_6, straight(0.012, 0.013)),
            "12.346 ms"
        );
        assert_eq!(instant_words(0.012_345_6, straight(0.0, 0.5)), "12.3 ms");
        assert_eq!(instant_words(0.0, straight(-0.1, 0.5)), "0 s");
        assert_eq!(instant_words(90.25, straight(90.0, 91.0)), "90.250 s");
        assert_eq!(
            straight(0.012_345_678, 0.022_345_678).rounded(),
            [Some(0.012_346), Some(0.022_346)]
        );
    }
}
