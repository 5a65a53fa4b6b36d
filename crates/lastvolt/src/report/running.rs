//! What stands at the edge of every printed page: the family, the digest of what was reviewed, and the
//! number of the page.

use crate::draw::svg::shortened;
use crate::report::Input;
use crate::report::opening::short;

/// Characters of a family's name at the edge of a page.
const LONGEST: usize = 60;

/// The rule for printed pages.
pub(super) fn style(input: &Input) -> String {
    let digest = short(&input.document.digest);
    let name = shortened(&input.family.name, LONGEST);
    let date = input.document.body.date.as_deref();
    let date = date.map_or_else(String::new, |d| format!(", {d}"));
    let left = quoted(&format!("{name}, input {digest}{date}"));
    format!(
        "@page{{size:auto;margin:14mm 14mm 16mm;@bottom-left{{content:{left};font:8.5pt Georgia,serif}}\
         @bottom-right{{content:counter(page) \" / \" counter(pages);font:8.5pt Georgia,serif}}}}\n"
    )
}

/// A text as a string of a style sheet that nothing in it can end.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars().filter(|c| !c.is_control()) {
        match c {
            c if c.is_ascii_alphanumeric() => out.push(c),
            c => out.push_str(&format!("\\{:06x}", u32::from(c))),
        }
    }
    out.push('"');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_name_ends_the_string_or_the_style() {
        let text = quoted("a\"}</b>\\ é\n");
        let escaped = r"\000022\00007d\00003c\00002fb\00003e\00005c\000020\0000e9";
        assert_eq!(text, format!("\"a{escaped}\""));
    }
}
