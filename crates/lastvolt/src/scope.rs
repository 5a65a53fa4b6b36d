//! What this version does not look at though a reader might take it for granted.

use lastvolt_core::model::Family;

/// A hazard that no rule covers yet; said wherever findings are.
pub(crate) const NOT_LOOKED_AT: &str = "not looked at: whether boards plugged together charge each \
     other's cells or fight over a rail. \
     Primary cells that are charged can leak, burst or burn: solve both boards together, fresh and tired";

/// What the reader of a family's findings should know.
pub(crate) fn warnings(family: &Family) -> Vec<String> {
    let requirement = &family.requirement;
    let mut warnings = vec![NOT_LOOKED_AT.to_owned()];
    if requirement.confidence.is_some() {
        warnings.push(
            "not computed yet: the spread of units; lives are those of typical parts".to_owned(),
        );
    }
    warnings
}
