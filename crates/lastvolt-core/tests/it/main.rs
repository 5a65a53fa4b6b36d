//! Checks of the engine against figures from outside and against the laws it must obey.

mod kit;
mod netlist;

mod cells;
mod converters;
mod dividers;
mod junctions;
mod laws;
mod leakage;
mod life;
mod life_laws;
mod operating_point;
mod prepared;
mod regulator_life;
mod scipy;
mod stacks;
mod transistors;
