//! Review rules on fixture boards: `tests/suite/RULE-hit.toml` holds a planted fault, marked at its
//! line by `#! severity rule`; `tests/suite/RULE-near-miss.toml` is close to it and stays quiet.
//!
//! A fixture holds the texts of one family; `#--- NAME` begins the text of that name. All `stop` and
//! `fix` findings of the family must be marked, and nothing else; a marked `note` must be there too.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::PathBuf;

use lastvolt_core::model::{Change, Family, PropertyId};
use lastvolt_core::progress::Silent;
use lastvolt_core::review::rules::RULES;
use lastvolt_core::review::{Evidence, Finding, Severity, check, review};
use lastvolt_input::{SpanMap, Text, read};

/// Severity, rule and place of a finding as `stop reversed-cell board.toml:3`.
type Mark = String;

pub(crate) fn suite() -> Vec<(String, String)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/suite");
    let mut out = Vec::new();
    for entry in std::fs::read_dir(folder).expect("the suite") {
        let path = entry.expect("an entry").path();
        let name = path.file_stem().and_then(|stem| stem.to_str());
        let name = name.expect("a name").to_owned();
        out.push((name, std::fs::read_to_string(path).expect("a text")));
    }
    out.sort();
    out
}

pub(crate) fn texts(fixture: &str) -> Vec<Text> {
    let mut out: Vec<Text> = Vec::new();
    for line in fixture.lines() {
        if let Some(name) = line.strip_prefix("#--- ") {
            let name = name.to_owned();
            let text = String::new();
            out.push(Text { name, text });
        } else if let Some(text) = out.last_mut() {
            text.text += line;
            text.text.push('\n');
        }
    }
    out
}

fn marks(texts: &[Text]) -> BTreeSet<Mark> {
    let mut out = BTreeSet::new();
    for text in texts {
        for (at, line) in text.text.lines().enumerate() {
            let line = line.split("#= ").next().unwrap_or_default();
            for mark in line.split("#! ").skip(1) {
                out.insert(format!("{} {}:{}", mark.trim(), text.name, at + 1));
            }
        }
    }
    out
}

/// Reads a family that must have no problems.
pub(crate) fn load(name: &str, texts: &[Text]) -> (Family, SpanMap) {
    let loaded = read(texts);
    let problems = &loaded.problems;
    assert!(problems.is_empty(), "{name} does not read: {problems:#?}");
    (loaded.family.expect("a family"), loaded.spans)
}

fn mark(spans: &SpanMap, finding: &Finding) -> Mark {
    let part = finding.parts.first().map_or("", String::as_str);
    let place = spans.find(Some(&finding.board), part, finding.at.as_deref());
    let place = place.expect("a place");
    let severity = finding.severity.word();
    format!("{severity} {} {}:{}", finding.rule, place.file, place.line)
}

/// Whether a finding took in one of the rule and at the place of a mark.
fn tells(spans: &SpanMap, finding: &Finding, wanted: &str) -> bool {
    finding.also.iter().any(|rule| {
        let other = Finding {
            rule,
            ..finding.clone()
        };
        let mark = mark(spans, &other);
        let (own, other) = (mark.split_once(' '), wanted.split_once(' '));
        own.map(|m| m.1) == other.map(|m| m.1)
    })
}

/// Lives and ends, for a reader of a failed test.
fn lives(family: &Family) -> String {
    let reviewed = review(family, None, &Silent).expect("a review");
    let mut out = String::new();
    for life in reviewed.boards.iter().flat_map(|b| &b.lives) {
        let (secs, end) = (life.life.life_secs, &life.life.end);
        let days = secs.map(|s| s / 86400.0);
        writeln!(out, "  {days:?} days, {end:?}").expect("text");
    }
    out
}

fn spoken(findings: &[Finding]) -> String {
    let each = findings.iter().filter(|f| f.rule != "cautions");
    each.map(|f| format!("  {} {}: {}\n", f.severity.word(), f.id(), f.says))
        .collect()
}

#[test]
fn every_fixture_is_judged_as_marked() {
    let mut wrong = String::new();
    for (name, fixture) in suite() {
        let texts = texts(&fixture);
        let wanted = marks(&texts);
        let (family, spans) = load(&name, &texts);
        let findings = match check(&family, None, &Silent) {
            Ok(findings) => findings,
            Err(reason) => {
                writeln!(wrong, "{name}: {reason}").unwrap();
                continue;
            }
        };
        let found =
            |f: &&Finding| f.severity != Severity::Note || wanted.contains(&mark(&spans, f));
        let found: BTreeSet<Mark> = findings
            .iter()
            .filter(found)
            .map(|f| mark(&spans, f))
            .collect();
        // What another finding explains is told of there.
        let told = |wanted: &&Mark| findings.iter().any(|f| tells(&spans, f, wanted));
        let missing: Vec<&Mark> = wanted
            .difference(&found)
            .filter(|mark| !told(mark))
            .collect();
        let extra: Vec<&Mark> = found.difference(&wanted).collect();
        if !missing.is_empty() || !extra.is_empty() {
            let says = spoken(&findings) + &lives(&family);
            writeln!(
                wrong,
                "{name}: missing {missing:?}, not marked {extra:?}\n{says}"
            )
            .unwrap();
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn a_near_miss_is_quiet_for_its_rule() {
    for (name, fixture) in suite() {
        let Some(rule) = name.strip_suffix("-near-miss") else {
            continue;
        };
        let (family, _) = load(&name, &texts(&fixture));
        let findings = check(&family, None, &Silent).unwrap();
        // Every board needs some caution; a near miss needs none about cells.
        let harmless = ["supply", "estimate"];
        let heard: Vec<String> = findings
            .iter()
            .filter(|f| f.rule == rule && !(rule == "cautions" && harmless.contains(&f.aspect)))
            .map(Finding::id)
            .collect();
        assert!(heard.is_empty(), "{name}: {heard:?}\n{}", spoken(&findings));
    }
}

#[test]
fn every_rule_has_a_hit_and_a_near_miss() {
    let names: Vec<String> = suite().into_iter().map(|(name, _)| name).collect();
    for rule in RULES {
        for kind in ["hit", "near-miss"] {
            let wanted = format!("{}-{kind}", rule.id());
            assert!(names.contains(&wanted), "no fixture {wanted}");
        }
    }
}

#[test]
fn names_of_findings_are_their_own() {
    for (name, fixture) in suite() {
        let (family, _) = load(&name, &texts(&fixture));
        let findings = check(&family, None, &Silent).unwrap();
        let ids: BTreeSet<String> = findings.iter().map(Finding::id).collect();
        assert_eq!(ids.len(), findings.len(), "{name}");
        for f in &findings {
            let told = !f.says.is_empty() && !f.remedy.is_empty() && !f.basis.is_empty();
            assert!(told, "{} of {name} lacks words", f.id());
            let finite = |figure: &lastvolt_core::review::Figure| figure.value.is_finite();
            assert!(
                f.measured.iter().chain(&f.limit).all(finite),
                "{} of {name}",
                f.id()
            );
        }
    }
}

/// A drain is weighed without a life of its own; the life agrees.
#[test]
fn law_a_saved_drain_wins_what_the_life_says() {
    for (name, part) in [
        ("pull-resistor-waste-hit", "R3"),
        ("idle-thief-divider-hit", "R2"),
    ] {
        let (_, fixture) = suite().into_iter().find(|s| s.0 == name).unwrap();
        let (family, _) = load(name, &texts(&fixture));
        let profile = family.profiles.first();
        let e = Evidence::new(&family, "board", profile, &Silent).unwrap();
        let removed = [Change::Set(
            PropertyId {
                board: Some("board".to_owned()),
                part: part.to_owned(),
                key: "value".to_owned(),
            },
            1e9,
        )];
        let (life, drain) = (e.win(&removed).unwrap(), e.win_by_drain(&removed).unwrap());
        // Burst and end depth are taken as unchanged: a few percent of the win.
        assert!(
            (drain / life - 1.0).abs() < 0.05,
            "{name}: {drain} against {life}"
        );
    }
}

/// What a step-up converter takes flows through its inductor; without it there is no break-even.
#[test]
fn a_step_up_that_is_not_needed_says_from_which_current_it_pays() {
    let name = "converter-not-needed-boost-hit";
    let (_, fixture) = suite().into_iter().find(|s| s.0 == name).unwrap();
    let (family, _) = load(name, &texts(&fixture));
    let findings = check(&family, None, &Silent).unwrap();
    let found = findings.iter().find(|f| f.rule == "converter-not-needed");
    let says = &found.expect("a finding").says;
    assert!(says.contains("it pays from a mean of"), "{says}");
}
