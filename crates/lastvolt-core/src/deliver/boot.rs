//! The hungriest step of each load's boot sequence as a state of the load.

use crate::model::{Family, Law, Load, LoadState};
use crate::quantity::Spread;

/// Name of the load state that stands for the hungriest step of the boot sequence. Brackets keep it
/// apart from what files can name.
pub(crate) const BOOT: &str = "(boot)";

/// The family with a boot state for every load that has a boot sequence.
pub(crate) fn with_boot(family: &Family) -> Family {
    let mut family = family.clone();
    for load in &mut family.loads {
        add_boot(load);
    }
    for board in &mut family.boards {
        board.loads.iter_mut().for_each(add_boot);
    }
    family
}

fn add_boot(load: &mut Load) {
    let boot = load.reset.iter().flat_map(|r| &r.boot);
    let most = boot
        .map(|b| b.current)
        .reduce(|a, b| if a < b { b } else { a });
    if let Some(current) = most {
        load.states.push(LoadState {
            name: BOOT.to_owned(),
            law: Law::Current(Spread::exactly(current)),
            working: None,
        });
    }
}
