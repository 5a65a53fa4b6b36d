//! A supply from outside the family's cells: a USB port, a wall adapter, a bench supply.

use crate::quantity::{Bearing, Current, Inductance, Properties, Resistance, Spread, Voltage};

/// A source with an open-circuit voltage, an inner resistance and a current limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Supply {
    /// Voltage without load.
    pub open_circuit: Spread<Voltage>,
    /// Inner resistance, cable included.
    pub resistance: Spread<Resistance>,
    /// Largest current it gives.
    pub limit: Option<Spread<Current>>,
    /// Whether it takes current when its output is held above its own voltage.
    pub sinks: bool,
    /// What it is, where that is said.
    pub port: Option<Port>,
    /// Inductance of its cable, both conductors, where that is said.
    pub cable: Option<Inductance>,
}

/// What a supply is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Port {
    /// A USB port.
    Usb,
    /// A wall adapter.
    Adapter,
    /// A bench supply.
    Bench,
}

impl Supply {
    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("voltage", Bearing::Other, &mut self.open_circuit);
        p.spread("resistance", Bearing::Other, &mut self.resistance);
        if let Some(limit) = &mut self.limit {
            p.spread("limit", Bearing::Other, limit);
        }
    }
}
