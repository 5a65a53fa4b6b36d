//! What feeds a life: the energy in the fresh cells, and what supplies and the like give besides.
//!
//! The lines of a ledger sum up to the energy at the start; a line below zero gives. What is fed in is
//! therefore the sum of all lines above zero, and every share is one of that.

use lastvolt_core::model::Board;
use lastvolt_core::quantity::Unit;

use crate::report::life::SMALL;
use crate::text::ending::{fed_joules, line_words};
use crate::text::number::{figure, listed};
use crate::view::LedgerView;

/// The energy that a ledger accounts for.
pub(super) struct Fed {
    /// All that is fed in.
    pub(super) joules: f64,
    /// What the cells hold at the start.
    pub(super) cells_joules: f64,
    /// What gives besides, in words, and how much.
    gives: Vec<(String, f64)>,
}

impl Fed {
    pub(super) fn new(ledger: &[LedgerView], board: Option<&Board>) -> Self {
        let joules = fed_joules(ledger);
        let negative = ledger.iter().filter(|l| l.joule.0 <= -SMALL * joules);
        Self {
            joules,
            cells_joules: ledger.iter().map(|l| l.joule.0).sum(),
            gives: negative
                .map(|l| (line_words(&l.line, board), -l.joule.0))
                .collect(),
        }
    }

    pub(super) fn share(&self, joules: f64) -> f64 {
        if self.joules > 0.0 {
            joules / self.joules
        } else {
            0.0
        }
    }

    /// The same as short as a picture needs it.
    pub(super) fn short(&self) -> String {
        if self.gives.is_empty() {
            return self.sources();
        }
        let gives = self.gives.iter();
        let gives = gives.map(|(name, given)| format!(", {} from {name}", joules(*given)));
        let gives: String = gives.collect();
        format!("{} in cells{gives}", joules(self.cells_joules))
    }

    /// Where it comes from.
    pub(super) fn sources(&self) -> String {
        let cells = format!("{} in the fresh cells", joules(self.cells_joules));
        let gives = self.gives.iter();
        let gives = gives.map(|(name, given)| format!("{} from {name}", joules(*given)));
        let all: Vec<String> = [cells].into_iter().chain(gives).collect();
        listed(&all)
    }

    /// The whole in a sentence.
    pub(super) fn whole(&self) -> String {
        if self.gives.is_empty() {
            return self.sources();
        }
        format!("{} fed in ({})", joules(self.joules), self.sources())
    }
}

fn joules(value: f64) -> String {
    figure(value, Unit::Joule)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::view::Num;

    fn ledger(lines: &[(&str, f64)]) -> Vec<LedgerView> {
        let lines = lines.iter().map(|(line, joule)| LedgerView {
            line: (*line).to_owned(),
            joule: Num(*joule),
        });
        lines.collect()
    }

    #[test]
    fn what_a_supply_gives_is_fed_in() {
        let lines = ledger(&[("V1", -300.0), ("load:a:on", 390.0), ("BT1:left", 10.0)]);
        let fed = Fed::new(&lines, None);
        assert_eq!((fed.joules, fed.cells_joules), (400.0, 100.0));
        assert_eq!(fed.share(390.0), 0.975);
        assert!(fed.whole().contains("300 J from V1"), "{}", fed.whole());
    }

    #[test]
    fn cells_alone_feed_what_they_hold() {
        let fed = Fed::new(&ledger(&[("load:a:on", 90.0), ("BT1:left", 10.0)]), None);
        assert_eq!((fed.joules, fed.cells_joules), (100.0, 100.0));
        assert_eq!(fed.whole(), format!("{} in the fresh cells", joules(100.0)));
    }
}
