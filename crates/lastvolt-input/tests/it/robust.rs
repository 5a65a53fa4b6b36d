//! Whatever is written, reading answers, quickly.

use std::time::Instant;

use lastvolt_input::{Text, board_files, read};
use proptest::prelude::*;

use crate::examples::family;

fn example() -> Vec<Text> {
    family("examples/frost-beacon")
}

/// Every problem stands inside its text, and a family with errors is not given.
fn sound(texts: &[Text]) {
    let loaded = read(texts);
    for problem in &loaded.problems {
        let text = texts.iter().find(|t| t.name == problem.file);
        let text = text.unwrap_or_else(|| panic!("no file {}", problem.file));
        assert!(text.text.get(problem.span.clone()).is_some(), "{problem:?}");
        assert!(problem.line >= 1 && problem.column >= 1);
        assert!(problem.says.len() < 2000, "{}", problem.says.len());
    }
    assert_eq!(loaded.family.is_none(), !loaded.problems.is_empty());
}

#[derive(Debug, Clone)]
enum Edit {
    Insert(String),
    Delete(usize),
    Swap(usize, usize),
}

fn edit() -> impl Strategy<Value = Edit> {
    let fragments = prop::sample::select(vec![
        "\"",
        "=",
        "{",
        "}",
        "[",
        "]",
        "\n",
        "#",
        ",",
        ".",
        "-",
        "0",
        "1e999",
        "nan",
        "inf",
        "true",
        "[[",
        "[parts.R1]",
        "kind = ",
        "\"cell\"",
        "{ min = ",
        "[]",
        "{}",
        "\"\"",
        "1979-05-27",
        "µ",
        "Ω",
        "\u{0}",
        "\u{feff}",
        "\\u",
        "'''",
        "\"\"\"",
        "pins",
        "model",
        "model = \"LR6\"\n",
        "open = [\"1\"]\n",
        "[models.x]\n",
        "like = \"x\"\n",
        "like = \"LR6\"\n",
        "-1 V",
        " V",
        "%",
        "/year",
    ]);
    prop_oneof![
        fragments.prop_map(|f| Edit::Insert(f.to_owned())),
        "\\PC{0,8}".prop_map(Edit::Insert),
        (1..40_usize).prop_map(Edit::Delete),
        (1..30_usize, 1..30_usize).prop_map(|(a, b)| Edit::Swap(a, b)),
    ]
}

fn boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

fn apply(text: &mut String, at: usize, edit: &Edit) {
    let start = boundary(text, at % (text.len() + 1));
    match edit {
        Edit::Insert(new) => text.insert_str(start, new),
        Edit::Delete(n) => {
            let end = boundary(text, start + n);
            text.replace_range(start..end, "");
        }
        Edit::Swap(a, b) => {
            let middle = boundary(text, start + a);
            let end = boundary(text, middle + b);
            let swapped = format!("{}{}", &text[middle..end], &text[start..middle]);
            text.replace_range(start..end, &swapped);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn law_no_edit_of_a_family_panics(edits in prop::collection::vec((any::<prop::sample::Index>(), any::<usize>(), edit()), 1..6)) {
        let mut texts = example();
        for (file, at, edit) in edits {
            let file = file.index(texts.len());
            apply(&mut texts[file].text, at, &edit);
        }
        sound(&texts);
        let _ = board_files(&texts[0].text);
    }
}

/// Large texts of every awkward kind are answered within a few seconds even without optimisation.
#[test]
#[expect(clippy::disallowed_methods, reason = "a test may look at the clock")]
fn large_texts_are_answered_soon() {
    const SIZE: usize = (1 << 20) - 1000;
    let repeat = |unit: &str| unit.repeat(SIZE / unit.len());
    let numbered = |f: &dyn Fn(usize) -> String| {
        let mut text = String::new();
        let mut n = 0;
        while text.len() < SIZE - 200 {
            text.push_str(&f(n));
            n += 1;
        }
        text
    };
    let boards = [
        ("comment", repeat("# nothing\n")),
        ("brackets", repeat("[")),
        ("quotes", repeat("\"")),
        ("equals", repeat("=\n")),
        ("long key", format!("{} = 1", repeat("a"))),
        ("long value", format!("title = \"{}\"", repeat("a"))),
        ("one line", format!("[parts.R1]\nx = [{}]", repeat("1,"))),
        ("dots", format!("{}a = 1", repeat("a."))),
        ("unknown keys", numbered(&|n| format!("key{n} = 1\n"))),
        (
            "parts",
            numbered(&|n| {
                format!(
                    "[parts.R{n}]\nkind = \"resistor\"\nvalue = \"1k\"\npins = [\"A{n}\", \"GND\"]\n"
                )
            }),
        ),
        (
            "bad parts",
            numbered(&|n| {
                format!("[parts.R{n}]\nkind = \"resistor\"\nvalue = 1\npins = [\"A\", \"GND\"]\n")
            }),
        ),
        (
            "pins",
            format!(
                "[parts.S1]\nkind = \"switch\"\npins = {{ {} }}\n",
                numbered(&|n| format!("p{n} = \"N{n}\", ")).trim_end_matches(", ")
            ),
        ),
        (
            "loads",
            numbered(&|n| format!("[loads.L{n}]\nstates = {{ on = \"1 mA\" }}\n")),
        ),
        (
            "throws",
            format!(
                "[parts.S1]\nkind = \"switch\"\npins = {{ 1 = \"A\", 2 = \"B\" }}\npositions = {{ on = [[{}]] }}\n",
                numbered(&|n| format!("\"throw{n}\", "))
            ),
        ),
        ("duplicates", repeat("[parts.R1]\n")),
    ];
    for (name, text) in boards {
        let mut texts = example();
        texts[1].text = text;
        let start = Instant::now();
        sound(&texts);
        let secs = start.elapsed().as_secs_f64();
        assert!(secs < 10.0, "{name}: {secs} s");
        println!("{name}: {secs:.2} s");
    }
}
