//! Changes of files: what is asked for changes, every other byte stays.

use proptest::prelude::*;
use proptest::test_runner::RngSeed;

use super::*;

/// A path as one writes it, `tasks[1].every`; keys of plain letters only.
fn path(text: &str) -> Vec<Step> {
    let mut steps = Vec::new();
    for piece in text.split('.') {
        let mut pieces = piece.split('[');
        let key = pieces.next().unwrap_or_default();
        if !key.is_empty() {
            steps.push(Step::Key(key.to_owned()));
        }
        for at in pieces {
            let at = at.trim_end_matches(']').parse().expect("a number");
            steps.push(Step::At(at));
        }
    }
    steps
}

#[track_caller]
fn check(before: &str, at: &str, to: Option<&str>, after: &str) {
    let to = to.map_or(To::Nothing, |toml| To::Toml(toml.to_owned()));
    let changed = apply(before, &path(at), &to);
    assert_eq!(changed.as_deref(), Ok(after));
}

#[track_caller]
fn refused(before: &str, at: &str, to: Option<&str>) -> Refusal {
    let to = to.map_or(To::Nothing, |toml| To::Toml(toml.to_owned()));
    apply(before, &path(at), &to).expect_err("a refusal")
}

#[test]
fn a_value_is_replaced_where_it_stands() {
    let header = "[parts.R1]\nvalue = \"4k7\"  # why\nrated = '1 W'\n";
    let changed = header.replace("4k7", "5k6");
    check(header, "parts.R1.value", Some("\"5k6\""), &changed);
    let inline = "parts = { R1 = { value = \"4k7\", rated = \"1 W\" } }";
    let changed = inline.replace("4k7", "5k6");
    check(inline, "parts.R1.value", Some("\"5k6\""), &changed);
    let dotted = "\u{feff}parts.R1.kind = \"r\"\r\nparts . \"R1\" . value=\"4k7\"\r\n";
    let changed = dotted.replace("4k7", "5k6");
    check(dotted, "parts.R1.value", Some("\"5k6\""), &changed);
    let tables = "[[tasks]]\nevery = \"1 s\"\n[[tasks]]\nevery = \"2 s\"\nsteps = [\n  { for = \"1 ms\" }, # a\n  { for = \"2 ms\" },\n]\n";
    check(
        tables,
        "tasks[1].every",
        Some("\"3 s\""),
        &tables.replace("2 s", "3 s"),
    );
    check(
        tables,
        "tasks[1].steps[1].for",
        Some("\"4 ms\""),
        &tables.replace("2 ms", "4 ms"),
    );
}

#[test]
fn a_new_key_stands_at_the_end_of_its_table_and_in_line_with_its_neighbours() {
    check(
        "[parts.R1]\nkind  = \"r\"\nvalue = \"4k7\" # why\n\n# The next.\n[parts.R2]\n",
        "parts.R1.note",
        Some("\"x\""),
        "[parts.R1]\nkind  = \"r\"\nvalue = \"4k7\" # why\nnote  = \"x\"\n\n# The next.\n[parts.R2]\n",
    );
    check(
        "[parts.R1]\r\n  kind = \"r\"\r\n  value = \"4k7\"",
        "parts.R1.note",
        Some("\"x\""),
        "[parts.R1]\r\n  kind = \"r\"\r\n  value = \"4k7\"\r\n  note = \"x\"",
    );
    check(
        "[parts.R1] # empty\n[parts.R2]\n",
        "parts.R1.note",
        Some("\"x\""),
        "[parts.R1] # empty\nnote = \"x\"\n[parts.R2]\n",
    );
    check(
        "[parts.BT1]\nkind = \"cell\"\n[parts.BT1.holder]\ncontact = \"1 ohm\"\n",
        "parts.BT1.series",
        Some("2"),
        "[parts.BT1]\nkind = \"cell\"\nseries = 2\n[parts.BT1.holder]\ncontact = \"1 ohm\"\n",
    );
    check(
        "[parts.R1]\nkind = \"r\"\nlimits = [\n  1,\n]\n",
        "parts.R1.limits",
        Some("[\n  1,\n  2,\n]"),
        "[parts.R1]\nkind = \"r\"\nlimits = [\n  1,\n  2,\n]\n",
    );
}

#[test]
fn a_new_key_in_braces_or_behind_dots_is_written_as_its_neighbours_are() {
    check("p = {}", "p.a", Some("1"), "p = { a = 1 }");
    check("p = { a = 1 }", "p.b", Some("2"), "p = { a = 1, b = 2 }");
    check(
        "p = { q.a = 1 } # c",
        "p.q.b",
        Some("2"),
        "p = { q.a = 1, q.b = 2 } # c",
    );
    check(
        "p.q.a = 1 # c\nx = 1\n",
        "p.q.b",
        Some("2"),
        "p.q.a = 1 # c\np.q.b = 2\nx = 1\n",
    );
    check("p.q.a = 1\n", "p.b", Some("2"), "p.q.a = 1\np.b = 2\n");
    check(
        "p = {\n  a = 1, # one\n  b = 2  # two\n}\n",
        "p.c",
        Some("3"),
        "p = {\n  a = 1, # one\n  b = 2,  # two\n  c = 3\n}\n",
    );
    check(
        "p = {\n  a = 1, # one\n}\n",
        "p.c",
        Some("3"),
        "p = {\n  a = 1, # one\n  c = 3,\n}\n",
    );
    check(
        "[p]\na = 1\n",
        "p.h.c",
        Some("\"2\""),
        "[p]\na = 1\nh = { c = \"2\" }\n",
    );
    check("l = [1, 2]\n", "l[2]", Some("3"), "l = [1, 2, 3]\n");
    check("l = []\n", "l[0]", Some("3"), "l = [3]\n");
}

#[test]
fn a_new_key_of_the_root_stands_above_the_first_table() {
    check(
        "# About.\n\n[p]\na = 1\n",
        "title",
        Some("\"x\""),
        "# About.\ntitle = \"x\"\n\n[p]\na = 1\n",
    );
    check(
        "# About p.\n[p]\na = 1\n",
        "title",
        Some("\"x\""),
        "title = \"x\"\n\n# About p.\n[p]\na = 1\n",
    );
    check("", "title", Some("\"x\""), "title = \"x\"\n");
}

#[test]
fn a_key_is_left_out_with_the_remark_behind_it() {
    check("[p]\na = 1 # x\nb = 2\n", "p.a", None, "[p]\nb = 2\n");
    check("[p]\r\na = 1\r\nb = 2", "p.b", None, "[p]\r\na = 1\r\n");
    check(
        "[p]\nq.a = 1\nb = 2\nq.c = 3\n",
        "p.q",
        None,
        "[p]\nb = 2\n",
    );
    check("p = { a = 1, b = 2 }", "p.a", None, "p = { b = 2 }");
    check("p = { a = 1, b = 2 }", "p.b", None, "p = { a = 1 }");
    check("p = { a = 1 }", "p.a", None, "p = {}");
    check(
        "p = {\n  a = 1, # x\n  b = 2\n}",
        "p.a",
        None,
        "p = {\n  b = 2\n}",
    );
    check(
        "p = {\n  a = 1, # x\n  b = 2\n}",
        "p.b",
        None,
        "p = {\n  a = 1 # x\n}",
    );
    check("l = [1, 2, 3]", "l[1]", None, "l = [1, 3]");
}

#[test]
fn what_cannot_be_changed_is_refused_in_words() {
    let table = "[p.q]\na = 1\n";
    assert!(matches!(
        refused(table, "p.q", Some("1")),
        Refusal::OwnTable(_)
    ));
    assert!(matches!(refused(table, "p.q", None), Refusal::OwnTable(_)));
    assert!(matches!(
        refused(table, "p.b", Some("1")),
        Refusal::NoPlace(_)
    ));
    assert!(matches!(
        refused(table, "p.q.a.b", Some("1")),
        Refusal::NoPlace(_)
    ));
    assert!(matches!(
        refused(table, "p.q.b", None),
        Refusal::NotThere(_)
    ));
    assert!(matches!(
        refused("a = ", "a", Some("1")),
        Refusal::NotToml(_)
    ));
    let two = refused(table, "p.q.a", Some("1\nb = 2"));
    assert!(two.to_string().contains("not TOML"), "{two}");
}

/// A file as it grows, and where its values stand.
#[derive(Debug, Clone, Default)]
struct Grown {
    text: String,
    values: Vec<(String, Range<usize>)>,
}

impl Grown {
    fn put(&mut self, text: &str) {
        self.text.push_str(text);
    }

    fn value(&mut self, path: String, value: &str) {
        let start = self.text.len();
        self.put(value);
        self.values.push((path, start..self.text.len()));
    }
}

const VALUES: [&str; 10] = [
    "\"4k7 \u{b1}5 %\"",
    "'as it is \\'",
    "12",
    "-0.5e3",
    "true",
    "[1, 2]",
    "[\n  \"a\", # one\n  \"b\",\n]",
    "{ typ = \"1 V\", max = \"2 V\" }",
    "\"# no remark = [x]\"",
    "\"\"\"\nlong # text\n\"\"\"",
];

/// Blanks before and behind `=`, a remark behind the value, and lines below it.
type Layout = (usize, usize, usize, usize);

#[derive(Debug, Clone)]
struct Plan {
    mark: bool,
    carriage: bool,
    open_end: bool,
    tables: Vec<(usize, Vec<(usize, Layout)>)>,
}

fn plan() -> impl Strategy<Value = Plan> {
    let layout = (0..3usize, 0..3usize, 0..3usize, 0..3usize);
    let entry = (0..VALUES.len(), layout);
    let table = (0..5usize, prop::collection::vec(entry, 1..5));
    let tables = prop::collection::vec(table, 1..6);
    (any::<bool>(), any::<bool>(), any::<bool>(), tables).prop_map(
        |(mark, carriage, open_end, tables)| Plan {
            mark,
            carriage,
            open_end,
            tables,
        },
    )
}

/// The file of a plan: tables with headers, behind dots, in braces on one line and on several, in lists.
fn grown(plan: &Plan) -> Grown {
    let mut file = Grown::default();
    if plan.mark {
        file.put("\u{feff}");
    }
    file.put("# what it is\n");
    // Keys behind dots stand in the root, before every header.
    let (root, below): (Vec<_>, Vec<_>) = plan.tables.iter().enumerate().partition(|t| t.1.0 == 0);
    for (n, (_, entries)) in root.iter().chain(&below).filter(|t| t.1.0 == 0) {
        lines(
            &mut file,
            &format!("d.t{n}"),
            &format!("d . t{n}."),
            entries,
        );
    }
    for (n, (style, entries)) in &below {
        match style {
            1 => {
                file.put(&format!("[h.t{n}]  # head\n"));
                lines(&mut file, &format!("h.t{n}"), "", entries);
            }
            2 => {
                file.put(&format!("[s{n}]\n"));
                lines(
                    &mut file,
                    &format!("s{n}.\"k\"").replace('"', ""),
                    "'k'.",
                    entries,
                );
            }
            3 => {
                file.put(&format!("[b{n}]\nk = "));
                let start = file.text.len();
                braces(&mut file, &format!("b{n}.k"), entries);
                file.values
                    .push((format!("b{n}.k"), start..file.text.len()));
                file.put(" # braces\n");
            }
            _ => {
                file.put(&format!("[[l{n}]]\nz = 0\n[[l{n}]]\n"));
                lines(&mut file, &format!("l{n}[1]"), "  ", entries);
            }
        }
    }
    if plan.open_end && file.text.ends_with('\n') {
        file.text.pop();
    }
    if plan.carriage { carriage(&file) } else { file }
}

fn lines(file: &mut Grown, path: &str, prefix: &str, entries: &[(usize, Layout)]) {
    for (k, (value, (before, after, remark, below))) in entries.iter().enumerate() {
        file.put(&format!(
            "{prefix}k{k}{}={}",
            " ".repeat(*before),
            " ".repeat(*after)
        ));
        file.value(format!("{path}.k{k}"), VALUES[*value]);
        file.put(["", " # remark", "\t#= [x] \u{b1}"][*remark]);
        file.put(["\n", "\n\n", "\n# apart\n"][*below]);
    }
}

fn braces(file: &mut Grown, path: &str, entries: &[(usize, Layout)]) {
    let open = entries[0].1.3 == 0;
    file.put(if open { "{\n" } else { "{ " });
    for (k, (value, (before, after, remark, _))) in entries.iter().enumerate() {
        file.put(&format!(
            "k{k}{}={}",
            " ".repeat(*before),
            " ".repeat(*after)
        ));
        file.value(format!("{path}.k{k}"), VALUES[*value]);
        let last = k + 1 == entries.len();
        if open {
            file.put(if last && *remark == 1 { "" } else { "," });
            file.put(["\n", "\n", " # in braces\n"][*remark]);
        } else if !last {
            file.put(", ");
        }
    }
    file.put(if open { "}" } else { " }" });
}

/// The same with other line breaks.
fn carriage(file: &Grown) -> Grown {
    let moved = |at: usize| at + file.text[..at].matches('\n').count();
    let values = file.values.iter();
    Grown {
        text: file.text.replace('\n', "\r\n"),
        values: values
            .map(|(path, span)| (path.clone(), moved(span.start)..moved(span.end)))
            .collect(),
    }
}

/// What a file says, layout left out.
fn said(text: &str) -> toml::Table {
    let text = text.trim_start_matches('\u{feff}');
    toml::from_str(text).unwrap_or_else(|why| panic!("{why}\n{text}"))
}

fn config() -> ProptestConfig {
    ProptestConfig {
        cases: 400,
        rng_seed: RngSeed::Fixed(9),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

const NEW: [&str; 4] = ["\"new \u{3a9}\"", "7", "[\n1,\n2]", "{ a = 1 }"];

proptest! {
    #![proptest_config(config())]

    #[test]
    fn law_a_change_replaces_the_bytes_of_its_value_and_no_other(
        plan in plan(), pick in any::<prop::sample::Index>(), new in 0..NEW.len(),
    ) {
        let file = grown(&plan);
        let (at, span) = &file.values[pick.index(file.values.len())];
        let changed = apply(&file.text, &path(at), &To::Toml(NEW[new].to_owned()));
        let put = with_newlines(NEW[new], &file.text);
        let expected = format!("{}{put}{}", &file.text[..span.start], &file.text[span.end..]);
        prop_assert_eq!(changed.as_deref(), Ok(expected.as_str()));
    }

    #[test]
    fn law_what_is_added_can_be_left_out_again_and_the_file_is_as_before(
        plan in plan(), pick in any::<prop::sample::Index>(), new in 0..NEW.len(),
    ) {
        let file = grown(&plan);
        let at = &file.values[pick.index(file.values.len())].0;
        let home = at.rsplit_once('.').map_or("", |h| h.0);
        let at = path(&format!("{home}.added"));
        let longer = apply(&file.text, &at, &To::Toml(NEW[new].to_owned()));
        let longer = longer.unwrap_or_else(|why| panic!("{why}\n{}", file.text));
        // Every byte of the file is still there, in its order.
        let mut rest = longer.chars();
        prop_assert!(file.text.chars().all(|c| rest.any(|d| c == d)), "{longer}");
        prop_assert_eq!(longer.matches('#').count(), file.text.matches('#').count());
        let again = apply(&longer, &at, &To::Nothing);
        let again = again.unwrap_or_else(|why| panic!("{why}\n{longer}"));
        let ended = again.trim_end_matches(['\r', '\n']) == file.text.trim_end_matches(['\r', '\n']);
        prop_assert!(ended, "{again}\n---\n{}", file.text);
    }

    #[test]
    fn law_what_is_left_out_is_gone_and_all_else_says_the_same(
        plan in plan(), pick in any::<prop::sample::Index>(),
    ) {
        let file = grown(&plan);
        let (at, span) = &file.values[pick.index(file.values.len())];
        let shorter = apply(&file.text, &path(at), &To::Nothing);
        let shorter = shorter.unwrap_or_else(|why| panic!("{why}\n{}", file.text));
        prop_assert!(shorter.len() < file.text.len() - (span.end - span.start));
        let (before, after) = (said(&file.text), said(&shorter));
        let found = |table: &toml::Table, at: &str| at_path(table, at);
        prop_assert!(found(&before, at).is_some());
        prop_assert!(found(&after, at).is_none(), "{shorter}");
        for (other, _) in file.values.iter().filter(|v| !v.0.starts_with(at.as_str())) {
            if !at.starts_with(other.as_str()) {
                prop_assert_eq!(found(&before, other), found(&after, other), "{}", other);
            }
        }
    }
}

fn at_path(table: &toml::Table, at: &str) -> Option<toml::Value> {
    let mut value = toml::Value::Table(table.clone());
    for step in path(at) {
        value = match step {
            Step::Key(key) => value.get(&key)?.clone(),
            Step::At(at) => value.get(at)?.clone(),
        };
    }
    Some(value)
}
