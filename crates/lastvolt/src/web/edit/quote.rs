//! What a person types, as TOML: texts get their quotes, anything else is taken as it is.

use lastvolt_input::Shape;
use toml_edit::Value;

/// What is to stand in the place of a value.
pub(super) fn written(typed: &str, shape: Shape, now: Option<&str>) -> Result<String, String> {
    let trimmed = typed.trim();
    let quotes = match shape {
        Shape::Text | Shape::Word(_) => true,
        Shape::Value | Shape::Spread => !taken_raw(trimmed, shape, now),
        Shape::Number | Shape::Flag | Shape::Names | Shape::Table => false,
        Shape::Other => is_text(now) && !trimmed.starts_with(['{', '[']),
    };
    let text = if matches!(shape, Shape::Text) {
        typed
    } else {
        trimmed
    };
    if quotes {
        Ok(quoted(text, now))
    } else {
        raw(trimmed)
    }
}

/// Whether what stands there is a text.
fn is_text(now: Option<&str>) -> bool {
    now.is_some_and(|now| now.starts_with(['"', '\'']))
}

/// Whether a figure is written without quotes: as a table of limits, or as the bare number it was.
fn taken_raw(typed: &str, shape: Shape, now: Option<&str>) -> bool {
    let table = shape == Shape::Spread && typed.starts_with('{');
    let bare = now.is_none_or(|now| now.parse::<f64>().is_ok());
    table || (bare && now.is_some() && typed.parse::<f64>().is_ok())
}

/// One TOML value as it is written.
pub(super) fn raw(typed: &str) -> Result<String, String> {
    if typed.is_empty() {
        return Err("this is empty, a value is needed".to_owned());
    }
    match typed.parse::<Value>() {
        Ok(_) => Ok(typed.to_owned()),
        Err(error) => Err(format!("this is not TOML: {}", error.message())),
    }
}

/// A text in quotes, of the sort that stands there now where that can hold it.
pub(super) fn quoted(text: &str, now: Option<&str>) -> String {
    let literal = now.is_some_and(|now| now.starts_with('\'') && !now.starts_with("'''"));
    if literal && !text.contains(|c: char| c == '\'' || c.is_control()) {
        return format!("'{text}'");
    }
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            '\r' => out.push_str("\\r"),
            c if c.is_control() => out.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A key, in quotes where it needs them.
pub(super) fn key(name: &str) -> String {
    let bare = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    if !name.is_empty() && name.chars().all(bare) {
        name.to_owned()
    } else {
        quoted(name, None)
    }
}

/// What stands in a file, as a person edits it: a text without its quotes, anything else as it is.
pub(super) fn unwritten(raw: &str) -> String {
    let value = raw.parse::<Value>();
    match value.as_ref().map(Value::as_str) {
        Ok(Some(text)) => text.to_owned(),
        _ => raw.replace("\r\n", "\n"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_get_quotes_and_figures_keep_theirs() {
        let spread = |typed: &str, now: &str| written(typed, Shape::Spread, Some(now));
        assert_eq!(
            spread("12k \u{b1}1 %", "\"4k7\"").as_deref(),
            Ok("\"12k \u{b1}1 %\"")
        );
        assert_eq!(spread("12k", "'4k7'").as_deref(), Ok("'12k'"));
        assert_eq!(spread("12k", "{ typ = \"4k7\" }").as_deref(), Ok("\"12k\""));
        assert_eq!(
            spread("{ typ = \"1k\" }", "\"4k7\"").as_deref(),
            Ok("{ typ = \"1k\" }")
        );
        assert_eq!(spread("10", "\"4k7\"").as_deref(), Ok("\"10\""));
        assert_eq!(spread("0.2", "0.5").as_deref(), Ok("0.2"));
        assert_eq!(spread("20 %", "0.5").as_deref(), Ok("\"20 %\""));
        assert_eq!(written("2", Shape::Number, None).as_deref(), Ok("2"));
        assert_eq!(
            written("a \"b\" \\", Shape::Text, None).as_deref(),
            Ok("\"a \\\"b\\\" \\\\\"")
        );
        assert_eq!(
            written("0.9 mA", Shape::Other, Some("\"1 mA\"")).as_deref(),
            Ok("\"0.9 mA\"")
        );
    }

    #[test]
    fn what_is_not_one_value_is_refused() {
        for typed in ["", "1\nkind = \"x\"", "1 # c", "two", "[1,", "1]\n[parts"] {
            assert!(
                written(typed, Shape::Number, Some("1")).is_err(),
                "{typed:?}"
            );
        }
    }

    #[test]
    fn what_is_unwritten_is_what_is_typed() {
        for (raw, typed) in [
            ("\"4k7\"", "4k7"),
            ("'a\"b'", "a\"b"),
            ("\"\"\"\nlong\"\"\"", "long"),
            ("[ 1,\r\n 2 ]", "[ 1,\n 2 ]"),
            ("2", "2"),
        ] {
            assert_eq!(unwritten(raw), typed);
        }
    }

    #[test]
    fn keys_are_quoted_where_they_must_be() {
        assert_eq!(key("value"), "value");
        assert_eq!(key("a b"), "\"a b\"");
        assert_eq!(key(""), "\"\"");
    }
}
