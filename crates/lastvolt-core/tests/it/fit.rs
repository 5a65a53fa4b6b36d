//! A cell followed through tests, and models fitted to them.

mod cells;
mod followed;
mod lived;
mod recovered;
