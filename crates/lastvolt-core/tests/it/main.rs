//! Checks of the engine against figures from outside and against the laws it must obey.

mod kit;
mod operating_point;
