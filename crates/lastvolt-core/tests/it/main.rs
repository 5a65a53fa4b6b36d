//! Checks of the engine against figures from outside and against the laws it must obey.

mod kit;
mod netlist;

mod cells;
mod converters;
mod deliver;
mod dividers;
mod junctions;
mod laws;
mod leakage;
mod life;
mod life_laws;
mod notice;
mod operating_point;
mod regulator_life;
mod scipy;
mod stacks;
mod transistors;
