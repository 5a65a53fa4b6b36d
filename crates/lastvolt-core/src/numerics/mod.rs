//! Tables, linear solving, stiff steps and scalar roots. Knows nothing of circuits.

pub mod eseries;
pub mod linear;
pub mod math;
pub mod normal;
pub mod relax;
pub mod root;
pub mod sobol;
pub mod sparse;
pub mod stiff;
pub mod table;
