//! `pull-resistor`: placeholder
use crate::review::rules::Rule;
use crate::review::{Evidence, Finding, RuleId};

pub(super) struct PullResistor;

impl Rule for PullResistor {
    fn id(&self) -> RuleId {
        "pull-resistor"
    }

    fn look(&self, _e: &Evidence) -> Vec<Finding> {
        Vec::new()
    }
}
