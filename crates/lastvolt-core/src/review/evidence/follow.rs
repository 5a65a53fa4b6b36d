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
                self.note_unknown(format!("{rule} could not follow a waveform: {why}"));
                None
            }
        }
    }

    /// Notes what could not be worked out on this board.
    pub(crate) fn note_unknown(&self, what: String) {
        let says = format!("{}: {what}", self.board.name);
        let mut unknown = self.unknown.borrow_mut();
        if !unknown.contains(&says) {
            unknown.push(says);
        }
    }

    /// What rules could not look at, in the order in which they found out.
    pub(crate) fn unknown(&self) -> Vec<String> {
        self.unknown.borrow().clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Ambient, Board, Connector, Family, Load, Requirement};
    use crate::quantity::Temperature;
    use crate::time::Occasion;

    /// A board with one load and nothing else on it.
    fn family() -> Family {
        let celsius = Temperature::from_celsius(20.0);
        let ambient = Ambient {
            low: celsius,
            usual: celsius,
            high: celsius,
            monthly: None,
        };
        Family {
            name: "test".to_owned(),
            requirement: Requirement {
                life: None,
                confidence: None,
                storage: None,
                notice: None,
                ambient,
            },
            connector: Connector {
                pins: vec!["VDD".to_owned(), "GND".to_owned()],
                ground: 1,
                promises: Vec::new(),
            },
            loads: vec![Load {
                name: "module".to_owned(),
                plus: "VDD".to_owned(),
                minus: "GND".to_owned(),
                working: None,
                survives: None,
                ripple: None,
                reset: None,
                states: Vec::new(),
                drives: Vec::new(),
                on: None,
            }],
            profiles: Vec::new(),
            boards: vec![Board {
                name: "board".to_owned(),
                title: "board".to_owned(),
                nets: vec!["VDD".to_owned(), "GND".to_owned()],
                parts: Vec::new(),
                loads: Vec::new(),
            }],
            accepts: Vec::new(),
        }
    }

    #[test]
    fn a_waveform_that_cannot_be_followed_is_noted_once() {
        let family = family();
        let e = Evidence::new(&family, "board", None, &Silent).expect("a board");
        let mut situation = e.usual();
        situation
            .states
            .insert("module".to_owned(), "gone".to_owned());
        let question = Question {
            circuit: e.circuit(),
            situation: &situation,
            cells: None,
            occasion: Occasion::Tasks(Vec::new()),
            tail_ns: Some(1_000),
        };
        for _ in 0..2 {
            assert!(e.follow("hiccup", &question).is_none());
        }
        let [told] = e.unknown().try_into().expect("one warning");
        assert!(
            told.starts_with("board: hiccup could not follow a waveform: "),
            "{told}"
        );
        assert!(told.contains("gone"), "{told}");
    }
}
