//! The worst of every reading over all situations of a board alone.

use super::Evidence;
use crate::review::situations::{Grid, How, Survey, survey};

impl Evidence<'_> {
    /// The survey of the board alone.
    #[must_use]
    pub fn survey(&self) -> &Survey {
        self.survey.get_or_init(|| {
            let grid = Grid::usual(&self.circuit);
            let how = How::Reduced;
            survey(&self.circuit, self.profile, grid, how, self.progress)
        })
    }
}
