//! Rust text with comments and literals blanked out, so that words are looked for in code alone.

/// The same text, line by line, with every character of comments, strings and characters a blank.
pub(crate) fn only_code(text: &str) -> String {
    let mut rest = text;
    let mut out = String::with_capacity(text.len());
    while let Some(first) = rest.chars().next() {
        let literal = literal_len(rest, out.chars().next_back());
        if literal == 0 {
            out.push(first);
            rest = &rest[first.len_utf8()..];
        } else {
            let (blanked, after) = rest.split_at(literal);
            out.extend(blanked.chars().map(|c| if c == '\n' { c } else { ' ' }));
            rest = after;
        }
    }
    out
}

/// Length in bytes of the comment or literal that begins here, or 0.
fn literal_len(rest: &str, before: Option<char>) -> usize {
    if rest.starts_with("//") {
        return rest.find('\n').unwrap_or(rest.len());
    }
    if rest.starts_with("/*") {
        return block_comment_len(rest);
    }
    if let Some(after) = rest.strip_prefix('"') {
        return 1 + quoted_len(after);
    }
    let in_word = before.is_some_and(|c| c.is_alphanumeric() || c == '_');
    if !in_word && let Some(len) = raw_string_len(rest) {
        return len;
    }
    char_len(rest)
}

fn block_comment_len(rest: &str) -> usize {
    let mut depth = 0_usize;
    let mut at = 0;
    while at < rest.len() {
        if rest[at..].starts_with("/*") {
            depth += 1;
            at += 2;
        } else if rest[at..].starts_with("*/") {
            depth -= 1;
            at += 2;
            if depth == 0 {
                return at;
            }
        } else {
            at += rest[at..].chars().next().map_or(1, char::len_utf8);
        }
    }
    rest.len()
}

/// Length up to and including the closing quote.
fn quoted_len(rest: &str) -> usize {
    let mut escaped = false;
    for (at, c) in rest.char_indices() {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => return at + 1,
            _ => {}
        }
    }
    rest.len()
}

fn raw_string_len(rest: &str) -> Option<usize> {
    let after = rest.strip_prefix("br").or_else(|| rest.strip_prefix('r'))?;
    let hashes = after.len() - after.trim_start_matches('#').len();
    let body = after[hashes..].strip_prefix('"')?;
    let close = format!("\"{}", "#".repeat(hashes));
    let end = body.find(&close).map_or(body.len(), |at| at + close.len());
    Some(rest.len() - body.len() + end)
}

/// Length of a character literal; 0 for a lifetime.
fn char_len(rest: &str) -> usize {
    let mut chars = rest.char_indices();
    if !matches!(chars.next(), Some((_, '\''))) {
        return 0;
    }
    match chars.next() {
        Some((_, '\\')) => rest[3..].find('\'').map_or(0, |at| at + 4),
        Some((at, c)) => {
            let close = at + c.len_utf8();
            if rest[close..].starts_with('\'') {
                close + 1
            } else {
                0
            }
        }
        None => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::only_code;

    fn check(text: &str, expected: &str) {
        let words: Vec<String> = only_code(text)
            .split_whitespace()
            .map(str::to_owned)
            .collect();
        assert_eq!(words.join(" "), expected);
    }

    #[test]
    fn comments_go() {
        check("a // b\nc", "a c");
        check("a /* b /* c */ d */ e", "a e");
    }

    #[test]
    fn strings_go() {
        check(r#"f("a \" b", c)"#, "f( , c)");
        check("f(r#\"a \" b\"#, c)", "f( , c)");
        check("bar\"x\"", "bar");
    }

    #[test]
    fn characters_go_and_lifetimes_stay() {
        check("f('\"', '\\'', 'ä')", "f( , , )");
        check("fn f<'a>(x: &'a str)", "fn f<'a>(x: &'a str)");
    }

    #[test]
    fn lines_keep_their_numbers() {
        assert_eq!(only_code("\"a\nb\"\nc").lines().count(), 3);
    }
}
