//! Reads families from text and checks what is said about them.

mod annotated;
mod catalog;
mod cells;
mod examples;
mod files;
mod film;
mod loads;
mod manual;
mod models;
mod names;
mod pins;
mod places;
mod profiles;
mod robust;
mod tables;
mod values;
