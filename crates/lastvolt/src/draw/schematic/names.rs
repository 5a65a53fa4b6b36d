//! Names as they are drawn: not too long, and no two that stand in one drawing alike.

/// Names of at most some letters that keep their beginning and their end, longer where two were alike.
pub(crate) fn apart(names: &[&str], most: usize) -> Vec<String> {
    let bare: Vec<(&str, String)> = names.iter().map(|n| (*n, String::new())).collect();
    apart_before(&bare, most)
}

/// The same with what stands behind each name, which is never cut.
pub(crate) fn apart_before(names: &[(&str, String)], most: usize) -> Vec<String> {
    let whole = |(name, behind): &(&str, String)| format!("{name}{behind}");
    let shown = |named: &(&str, String)| {
        let count = whole(named).chars().count();
        let others = names.iter().filter(|n| *n != named);
        let is_alone = |short: &String| {
            let most = short.chars().count();
            others.clone().all(|n| cut(n, most) != *short)
        };
        let mut short = (most..count).map(|most| cut(named, most));
        short.find(is_alone).unwrap_or_else(|| whole(named))
    };
    names.iter().map(shown).collect()
}

/// A name with an ellipsis in its middle, and what stands behind it.
fn cut((name, behind): &(&str, String), most: usize) -> String {
    let letters: Vec<char> = name.chars().collect();
    let most = most.saturating_sub(behind.chars().count());
    if letters.len() <= most {
        return format!("{name}{behind}");
    }
    let tail = most / 2;
    let head: String = letters.iter().take(most.saturating_sub(tail + 1)).collect();
    let end: String = letters.iter().skip(letters.len() - tail).collect();
    format!("{head}…{end}{behind}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_names_are_cut_and_stay_apart() {
        let drawn = apart(
            &[
                "VDD",
                "net behind the protection of one",
                "net behind the protection of two",
            ],
            18,
        );
        assert_eq!(drawn[0], "VDD");
        assert!(drawn[1].chars().count() <= 18);
        assert_ne!(drawn[1], drawn[2]);
        // Only the middle differs.
        let drawn = apart(
            &[
                "a supply of the board 1 and all that it feeds",
                "a supply of the board 2 and all that it feeds",
            ],
            18,
        );
        assert_ne!(drawn[0], drawn[1]);
    }

    #[test]
    fn what_stands_behind_a_name_is_kept() {
        let long = "S52 of the second channel left";
        let names = [
            (long, ".A".to_owned()),
            (long, ".B".to_owned()),
            ("S53 of the second channel left", ".A".to_owned()),
        ];
        let drawn = apart_before(&names, 14);
        assert_eq!(drawn[0], "S52 o…l left.A");
        assert_eq!(drawn[1], "S52 o…l left.B");
        assert_ne!(drawn[0], drawn[2]);
    }
}
