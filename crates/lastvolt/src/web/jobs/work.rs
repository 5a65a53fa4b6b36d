//! What can be worked out in the background, and what it is called.

use lastvolt_core::model::Family;
use lastvolt_core::progress::Progress;
use maud::Markup;

use crate::web::desk::Sound;
use crate::web::jobs::{stacks, units};
use crate::web::lives::LifeKey;
use crate::web::server::Asked;
use crate::web::setting::{Ambient, path};

/// Work that takes long.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Work {
    /// Lives of units of a board whose cells differ.
    Units(LifeKey),
    /// Every way of plugging so many boards together, in every position.
    Stacks(usize),
}

impl Work {
    /// Work of the family by its word.
    pub(super) fn of_family(word: &str, family: &Family) -> Option<Self> {
        let all = Self::all_of_family(family);
        all.into_iter().find(|w| w.word() == word)
    }

    /// Work of boards in a setting by its word.
    pub(super) fn of_boards(word: &str, asked: &Asked) -> Option<Self> {
        let all = Self::all_of_boards(asked);
        all.into_iter().find(|w| w.word() == word)
    }

    /// What the page of the family offers.
    pub(super) fn all_of_family(family: &Family) -> Vec<Self> {
        if family.boards.is_empty() {
            return Vec::new();
        }
        vec![Self::Stacks(2), Self::Stacks(3)]
    }

    /// What the page of boards offers in a setting.
    pub(super) fn all_of_boards(asked: &Asked) -> Vec<Self> {
        let [board] = asked.circuit.boards() else {
            return Vec::new();
        };
        if !board.has_cell() {
            return Vec::new();
        }
        let setting = &asked.setting;
        let degrees = setting.situation.ambient.as_celsius();
        #[expect(clippy::cast_possible_truncation, reason = "temperatures are small")]
        let milli = (degrees * 1e3).round() as i32;
        vec![Self::Units(LifeKey {
            board: board.name.clone(),
            profile: setting
                .profile(asked.circuit.family())
                .map(|p| p.name.clone()),
            ambient: (setting.ambient != Ambient::Usual).then_some(milli),
            positions: setting.situation.positions.clone(),
        })]
    }

    /// The word by which a page asks for it.
    pub(super) fn word(&self) -> &'static str {
        match self {
            Self::Units(_) => "units",
            Self::Stacks(2) => "pairs",
            Self::Stacks(_) => "threes",
        }
    }

    /// The page that it belongs to.
    pub(super) fn place(&self) -> String {
        match self {
            Self::Units(key) => path(std::slice::from_ref(&key.board)),
            Self::Stacks(_) => "/".to_owned(),
        }
    }

    /// What it is.
    pub(super) fn title(&self) -> &'static str {
        match self {
            Self::Units(_) => "Lives of units whose cells differ",
            Self::Stacks(2) => "Every board and every pair, in every position",
            Self::Stacks(_) => "Every three boards at once, in every position",
        }
    }

    /// The condition that it is worked out for.
    pub(super) fn condition(&self) -> Option<String> {
        match self {
            Self::Units(key) => Some(units::condition(key)),
            Self::Stacks(_) => None,
        }
    }

    /// What it is good for, in a sentence.
    pub(super) fn purpose(&self) -> &'static str {
        match self {
            Self::Units(_) => {
                "Draws units from the spread that the cells state, at the profile, the ambient and the positions above, and says how long most of them last."
            }
            Self::Stacks(2) => {
                "Solves every switch position and reversed cell of every board alone and of every two boards on one connector, two of one kind too; each cell also drawn to its end beside a fresh one."
            }
            Self::Stacks(_) => {
                "Solves every switch position and reversed cell of every three boards on one connector; each cell also drawn to its end beside fresh ones. This takes longest."
            }
        }
    }

    /// Does it; none where it was stopped.
    pub(super) fn run(
        &self,
        sound: &Sound,
        progress: &dyn Progress,
    ) -> Option<Result<Markup, String>> {
        let answer = match self {
            Self::Units(key) => units::run(sound, key, progress),
            Self::Stacks(count) => stacks::run(sound, *count, progress),
        };
        (!progress.cancelled()).then_some(answer)
    }
}
