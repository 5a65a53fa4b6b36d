//! `switch-duty`: are the contacts of a switch made for what they do, and does each position do what
//! the file says of it?
//!
//! Contacts are judged by the current that they carry in the matrix and in the hungriest states, and by
//! what charging capacitors through them does when they close. Positions are judged by what they do in
//! the matrix.
//!
//! # Formula
//! ```text
//! peak = V / R      energy in the contact path = C V^2 / 2      integral of I^2 = C V^2 / (2 R)
//! ```
//! V is the voltage across the open contact, R everything between the two sides that is not ideal.

mod charge;
mod duty;
mod promise;

use crate::model::Device;
use crate::review::rules::Rule;
use crate::review::{Evidence, Finding, RuleId};

pub(super) struct SwitchDuty;

impl Rule for SwitchDuty {
    fn id(&self) -> RuleId {
        "switch-duty"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let mut out = Vec::new();
        for part in &e.board.parts {
            let Device::Switch(switch) = &part.device else {
                continue;
            };
            out.extend(duty::overloaded(e, self.id(), part, switch));
            out.extend(duty::dry(e, self.id(), part, switch));
            out.extend(charge::inrush(e, self.id(), part, switch));
            let idle = promise::same(e, self.id(), part, switch);
            let broken = promise::broken(e, self.id(), part, switch);
            // A promise that is not kept says more than that two positions are alike.
            if broken.is_empty() {
                out.extend(idle);
                out.extend(promise::label(e, self.id(), part, switch));
            }
            out.extend(broken);
        }
        out
    }
}
