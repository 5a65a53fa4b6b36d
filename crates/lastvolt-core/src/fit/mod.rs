//! A cell model from measurements: tests as makers print them and as logs record them, a cell followed
//! through each, and the parameters that make both agree.

mod test;

pub use test::{Amount, At, Demand, Drive, Duty, LogPoint, Reading, Step, Test, Value, Window};
