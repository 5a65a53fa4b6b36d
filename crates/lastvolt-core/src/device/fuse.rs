//! A fuse, seen as its cold resistance.

use crate::quantity::{Bearing, Current, Properties, Resistance, Spread};

/// A fuse that has not blown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fuse {
    /// Cold resistance.
    pub resistance: Spread<Resistance>,
    /// Rated current.
    pub rated: Option<Current>,
}

impl Fuse {
    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("resistance", Bearing::Other, &mut self.resistance);
    }
}
