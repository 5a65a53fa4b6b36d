//! Checks of the engine against figures from outside and against the laws it must obey.

mod brute_boards;
mod kit;
mod netlist;

mod brute_force;
mod brute_waves;
mod bursts;
mod calendar;
mod cells;
mod chance;
mod coin_note;
mod converters;
mod deliver;
mod dividers;
mod film;
mod fit;
mod junctions;
mod laws;
mod leakage;
mod life;
mod life_apart;
mod life_causes;
mod life_laws;
mod notice;
mod operating_point;
mod part_kinds;
mod prepared;
mod regulator_life;
mod restart;
mod robertson;
mod scipy;
mod shift;
mod stacks;
mod starts;
mod transistors;
