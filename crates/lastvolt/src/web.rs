//! The desk: the family as live pages on this machine.
//!
//! The files are all there is: every page is made from one reading of the folder, an [`desk::Edition`],
//! and from what its link states, a [`setting::Setting`]. Nothing else is kept that could be lost.

mod assets;
mod burst;
mod curve;
mod desk;
mod edit;
mod guard;
mod held;
mod jobs;
mod live;
mod lives;
mod news;
mod page;
mod readings;
mod reviewed;
mod server;
mod setting;
#[cfg(test)]
mod tried;
mod watch;

pub(crate) use server::{Options, serve};
