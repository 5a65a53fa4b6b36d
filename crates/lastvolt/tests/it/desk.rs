//! The desk as people and programs meet it: over plain sockets, in a real browser, with files that
//! change under it.

mod browser;
mod doors;
mod files;
mod http;
mod journeys;
mod pages;
mod served;
