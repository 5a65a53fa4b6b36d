//! Switches and jumpers of any number of poles.

use crate::quantity::{Bearing, Current, Properties, Resistance, Spread};

/// Contacts that positions open and close.
#[derive(Debug, Clone, PartialEq)]
pub struct Switch {
    /// What is printed beside it.
    pub label: Option<String>,
    /// The positions in the order of the file, at least one.
    pub positions: Vec<Position>,
    /// The position assumed where none is said.
    pub usual: usize,
    /// The position it springs back to when it is let go; always the usual one.
    pub returns: Option<usize>,
    /// What happens between two positions.
    pub action: Action,
    /// Resistance of a closed contact.
    pub contact: Spread<Resistance>,
    /// Rated contact current.
    pub rated: Option<Current>,
    /// Least current that its contacts are made for: below it their film is not broken through.
    pub least: Option<Current>,
}

/// One position.
#[derive(Debug, Clone, PartialEq)]
pub struct Position {
    /// Its name.
    pub name: String,
    /// Pairs of closed pins, as places in the part's list of pins.
    pub closed: Vec<(usize, usize)>,
    /// Rails that this position promises, where the file says so.
    pub means: Option<Vec<String>>,
}

/// What happens between two positions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    /// The old contact opens before the new one closes.
    BreakFirst,
    /// The new contact closes before the old one opens.
    MakeFirst,
}

impl Switch {
    /// The place of a position of this name.
    #[must_use]
    pub fn position(&self, name: &str) -> Option<usize> {
        self.positions.iter().position(|p| p.name == name)
    }

    /// Whether a position can last: it is none between two others, and no spring ends it.
    #[must_use]
    pub fn lasts_in(&self, name: &str) -> bool {
        let at = self.position(name);
        at.is_some_and(|at| self.returns.is_none_or(|returns| returns == at))
    }

    /// The pairs of pins that are closed in a position.
    ///
    /// `a+b` names the state between the positions `a` and `b` of a make-first switch, in which the
    /// contacts of both are closed.
    #[must_use]
    pub fn closed_in(&self, name: &str) -> Option<Vec<(usize, usize)>> {
        if let Some(at) = self.position(name) {
            return Some(self.positions[at].closed.clone());
        }
        let (old, new) = name.split_once('+')?;
        let (old, new) = (self.position(old)?, self.position(new)?);
        let mut closed = self.positions[old].closed.clone();
        for pair in &self.positions[new].closed {
            if !closed.contains(pair) {
                closed.push(*pair);
            }
        }
        Some(closed)
    }

    /// Names of the states between neighbouring positions, where contacts of both are closed.
    #[must_use]
    pub fn between(&self) -> Vec<String> {
        if self.action == Action::BreakFirst {
            return Vec::new();
        }
        self.positions
            .windows(2)
            .map(|pair| format!("{}+{}", pair[0].name, pair[1].name))
            .collect()
    }

    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("contact", Bearing::Other, &mut self.contact);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn switch(returns: Option<usize>) -> Switch {
        let position = |name: &str| Position {
            name: name.to_owned(),
            closed: Vec::new(),
            means: None,
        };
        Switch {
            label: None,
            positions: vec![position("up"), position("pressed")],
            usual: 0,
            returns,
            action: Action::MakeFirst,
            contact: Spread::exactly(Resistance::from_ohms(0.05)),
            rated: None,
            least: None,
        }
    }

    #[test]
    fn what_a_spring_ends_and_what_lies_in_between_does_not_last() {
        let lasting = |returns, name| switch(returns).lasts_in(name);
        assert!(lasting(None, "up") && lasting(None, "pressed"));
        assert!(!lasting(None, "up+pressed"));
        assert!(lasting(Some(0), "up") && !lasting(Some(0), "pressed"));
    }
}
