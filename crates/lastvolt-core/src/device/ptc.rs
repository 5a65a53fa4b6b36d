//! A resettable fuse, seen as its resistance before it trips.

use crate::quantity::{Bearing, Current, Power, Properties, Resistance, Spread, Voltage};

/// A resettable fuse that has not tripped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ptc {
    /// Resistance before it trips.
    pub resistance: Spread<Resistance>,
    /// Current that it carries for ever without tripping.
    pub hold: Option<Current>,
    /// Current that surely trips it.
    pub trip: Option<Current>,
    /// Highest voltage it holds off when tripped.
    pub rated: Option<Voltage>,
    /// Power that keeps it tripped: what it lets leak.
    pub tripped_power: Option<Power>,
}

impl Ptc {
    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("resistance", Bearing::Other, &mut self.resistance);
    }
}
