//! The report.

pub(crate) mod verdict;

use lastvolt_core::model;
use lastvolt_core::review::Review;

use crate::cli::load::Family;
use crate::view::{Document, ReviewView};

/// x
pub(crate) fn view(
    _family: &Family,
    _review: &Review,
    _profile: Option<&str>,
) -> (ReviewView, Vec<String>) {
    unimplemented!()
}
/// x
pub(crate) fn html(_document: &Document<ReviewView>, _family: &model::Family) -> String {
    unimplemented!()
}
