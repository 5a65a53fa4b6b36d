//! The nearest known spelling of a name, and names shortened for messages.

/// Longest name for which a near spelling is looked for; the search is quadratic in the length.
const LONGEST_SEARCHED: usize = 64;

/// The known name that is nearest to `got`, if one is near enough to be meant.
pub(crate) fn nearest<'a>(got: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    if got.len() > LONGEST_SEARCHED {
        return None;
    }
    let lower = got.to_lowercase();
    let length = got.chars().count();
    known
        .into_iter()
        .filter_map(|name| {
            let allowed = 1 + (name.chars().count().max(1) - 1) / 4;
            let contained =
                name.len() > 3 && got.len() > 3 && (name.contains(got) || got.contains(name));
            // The distance is at least the difference of the lengths, which is cheap to look at.
            if !contained && allowed < name.chars().count().abs_diff(length) {
                return None;
            }
            let distance = strsim::damerau_levenshtein(&lower, &name.to_lowercase());
            (distance <= allowed || contained).then_some((distance, name))
        })
        .min()
        .map(|found| found.1)
}

/// A name in back quotes, cut where it is long.
pub(crate) fn quoted(name: &str) -> String {
    const MOST: usize = 60;
    if name.chars().count() <= MOST {
        return format!("`{name}`");
    }
    let head: String = name.chars().take(MOST).collect();
    format!("`{head}...`")
}

/// Names for a message: `a`, `b` and `c`; long lists are cut.
pub(crate) fn listed<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    const MOST: usize = 40;
    let mut names: Vec<&str> = names.into_iter().collect();
    let more = names.len().saturating_sub(MOST);
    names.truncate(MOST);
    let mut text = names.join(", ");
    if more > 0 {
        text.push_str(&format!(" and {more} more"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_names_are_found_and_far_ones_are_not() {
        let known = ["value", "rated", "dielectric", "series_resistance"];
        assert_eq!(nearest("vlaue", known), Some("value"));
        assert_eq!(nearest("Rated", known), Some("rated"));
        assert_eq!(nearest("dielectrc", known), Some("dielectric"));
        assert_eq!(nearest("resistance", known), Some("series_resistance"));
        assert_eq!(nearest("colour", known), None);
        assert_eq!(nearest(&"x".repeat(1_000_000), known), None);
    }

    #[test]
    fn long_names_are_cut() {
        assert_eq!(quoted("abc"), "`abc`");
        assert!(quoted(&"ü".repeat(1000)).len() < 200);
    }
}
