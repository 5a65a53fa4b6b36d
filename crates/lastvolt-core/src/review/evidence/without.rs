//! Lives of the board with something else in its place than a change of one property: without a
//! converter, with loads moved.

use crate::device::Resistor;
use crate::model::Device;
use crate::model::{Family, Kind, Part, Pin};
use crate::progress::Silent;
use crate::quantity::{Resistance, Spread};
use crate::review::Evidence;
use crate::review::anatomy::dividers;
use crate::time::{Life, life};

impl Evidence<'_> {
    /// The life with settled bursts in another family.
    pub(crate) fn settled_life(&self, family: &Family) -> Option<Life> {
        life(&self.settled(family), &Silent).ok()
    }

    /// The run time with settled bursts as the board is.
    pub(crate) fn settled_now(&self) -> Option<f64> {
        self.settled_secs()
    }

    /// The family with a regulator replaced by a wire from its input to its output, and without the
    /// divider that sets it.
    pub(crate) fn without(&self, regulator: &Part) -> Option<Family> {
        let pin = |name: &str| -> Option<Pin> { Some(regulator.pin(name)?.1.clone()) };
        let (input, output) = (pin("in")?, pin("out")?);
        let divider = dividers(self.board).into_iter();
        let divider = divider.filter(|d| d.regulator.name == regulator.name);
        let gone: Vec<String> = divider
            .flat_map(|d| [d.upper.name.clone(), d.lower.name.clone()])
            .collect();
        let mut family = self.family.clone();
        let boards = &mut family.boards;
        let board = boards.iter_mut().find(|b| b.name == self.board.name)?;
        board.parts.retain(|p| !gone.contains(&p.name));
        let part = board.parts.iter_mut().find(|p| p.name == regulator.name)?;
        part.pins = vec![input, output];
        part.kind = Kind::Resistor;
        let value = Spread::exactly(Resistance::from_ohms(0.0));
        part.device = Device::Resistor(Resistor { value, rated: None });
        Some(family)
    }
}
