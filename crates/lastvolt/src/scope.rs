//! What this version does not look at though a reader might take it for granted.

use lastvolt_core::model::{Family, Profile};

/// What the reader of a family's findings should know; rules judge the profile.
pub(crate) fn warnings(family: &Family, profile: Option<&Profile>) -> Vec<String> {
    let mut warnings = Vec::new();
    let judged = profile.or(family.profiles.first());
    if let (Some(judged), true) = (judged, 1 < family.profiles.len()) {
        warnings.push(format!(
            "findings judge the profile {}; `--profile` judges another",
            judged.name
        ));
    }
    if 1 < family.boards.len() {
        warnings.push(
            "not looked at: three and more boards plugged together (`matrix` shows them)"
                .to_owned(),
        );
    }
    if family.requirement.confidence.is_some() {
        warnings.push(
            "not computed yet: the spread of units beyond that of their cells; other parts are typical".to_owned(),
        );
    }
    warnings
}
