//! Reads families from text and checks what is said about them.

mod accepts;
mod annotated;
mod catalog;
mod catalog_cells;
mod cells;
mod examples;
mod files;
mod film;
mod like;
mod loads;
mod manual;
mod measured;
mod models;
mod names;
mod part_classes;
mod part_kinds;
mod pins;
mod places;
mod profiles;
mod regulator_classes;
mod robust;
mod seen;
mod tables;
mod values;
mod written;
