//! Waveforms that rules look at, and what they could not look at.

use super::Evidence;
use crate::progress::Silent;
use crate::review::RuleId;
use crate::time::{Question, Waveform};

impl Evidence<'_> {
    /// The waveform that a rule asks for; where there is none, that is noted, for the rule is quiet then.
    pub(crate) fn follow(&self, rule: RuleId, question: &Question) -> Option<Waveform> {
        match question.follow(&Silent) {
            Ok(followed) => Some(followed.wave),
            Err(why) => {
                let board = &self.board.name;
                let says = format!("{board}: {rule} could not follow a waveform: {why}");
                let mut unknown = self.unknown.borrow_mut();
                if !unknown.contains(&says) {
                    unknown.push(says);
                }
                None
            }
        }
    }

    /// What rules could not look at, in the order in which they found out.
    pub(crate) fn unknown(&self) -> Vec<String> {
        self.unknown.borrow().clone()
    }
}
