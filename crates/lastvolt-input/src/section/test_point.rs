//! `kind = "test-point"`.

use lastvolt_core::model::{Device, Kind};

use super::{PinSet, Section};

pub(crate) static SECTION: Section = Section {
    kind: Kind::TestPoint,
    doc: "a place to put a probe; `pins = [\"VDD\"]`",
    pins: PinSet::One,
    part: &[],
    model: &[],
    read: |_, _| Some(Device::TestPoint),
};
