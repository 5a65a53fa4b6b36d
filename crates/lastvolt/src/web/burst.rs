//! What happens within moments, in a setting: a task, switching on, being off for a while; the picture of
//! a stretch of it, and what stands where in it.

mod choice;
mod cursor;
mod kept;
mod section;
mod stretch;
mod task;

#[cfg(test)]
mod tests;

pub(crate) use choice::Burst;
pub(crate) use cursor::at;
pub(crate) use kept::Waves;
pub(crate) use section::inside;
pub(crate) use task::about_task;
