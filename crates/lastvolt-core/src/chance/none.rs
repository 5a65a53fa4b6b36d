//! Why lives of units, or what a share of them reaches, are not known.

use thiserror::Error;

use crate::circuit::NoPoint;

/// Why there are no lives of units.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoSpread {
    /// No cell states by how much it differs from unit to unit.
    #[error("no cell states by how much it differs from unit to unit")]
    NotStated,
    /// More quantities differ than units can be drawn for.
    #[error(
        "{count} quantities of cells differ from unit to unit; units are drawn for {most} at most"
    )]
    TooMany {
        /// How many do.
        count: usize,
        /// How many may.
        most: usize,
    },
    /// The life of the typical unit has no end.
    #[error("nothing ends the typical life within 100 years")]
    TypicalNeverEnds,
    /// The life of the typical unit lasts no time.
    #[error("the typical life ends at once")]
    TypicalEndsAtOnce,
    /// The work was told to stop.
    #[error("stopped on the way")]
    Stopped,
    /// A unit has no operating point on the way.
    #[error("the life of a unit could not be computed: {0}")]
    Unit(#[from] NoPoint),
}

/// Why it is not known how long a share of the units lasts.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoPromise {
    /// So many units cannot show it.
    #[error("{units} units cannot show what {} % of them reach", percent(*confidence))]
    BeyondUnits {
        /// The share.
        confidence: f64,
        /// How many there are.
        units: usize,
    },
    /// Nothing ends the lives there.
    #[error("nothing ends the life that {} % of units reach within 100 years", percent(*confidence))]
    NoEnd {
        /// The share.
        confidence: f64,
    },
}

/// A share in percent, without the digits that rounding leaves.
fn percent(share: f64) -> f64 {
    (share * 1e6).round() / 1e4
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_told_in_percent() {
        let why = NoPromise::BeyondUnits {
            confidence: 0.999,
            units: 64,
        };
        let told = "64 units cannot show what 99.9 % of them reach";
        assert_eq!(why.to_string(), told);
    }
}
