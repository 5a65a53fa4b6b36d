//! Findings as SARIF 2.1.0, the interchange format of OASIS for the results of static analysis.
//!
//! # References
//! OASIS, Static Analysis Results Interchange Format (SARIF) Version 2.1.0.

use lastvolt_core::review::rules::RULES;
use lastvolt_input::{Diagnostic, Text};
use serde::Serialize;
use serde_json::{Value, json};

use crate::text::check::told;
use crate::view::FindingView;

const SCHEMA: &str =
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";

/// The index of the rules' pages: one row a rule with what it finds.
const INDEX: &str = include_str!("../../../../docs/rules/README.md");

/// What the log is made from.
pub(crate) struct SarifInput<'a> {
    /// The findings.
    pub(crate) findings: &'a [FindingView],
    /// Accepts that accept nothing.
    pub(crate) idle: &'a [Diagnostic],
    /// What the reader should know.
    pub(crate) warnings: &'a [String],
    /// The files.
    pub(crate) texts: &'a [Text],
    /// The family's folder, to be put before the names of files.
    pub(crate) prefix: &'a str,
    /// Exit status of the command.
    pub(crate) status: u8,
}

/// A log with one run.
#[derive(Debug, Serialize)]
pub(crate) struct SarifLog {
    #[serde(rename = "$schema")]
    schema: &'static str,
    version: &'static str,
    runs: [Run; 1],
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
struct Run {
    tool: Tool,
    invocations: [Value; 1],
    column_kind: &'static str,
    results: Vec<SarifResult>,
}

#[derive(Debug, Serialize)]
struct Tool {
    driver: Driver,
}

#[derive(Debug, Serialize)]
struct Driver {
    name: &'static str,
    version: &'static str,
    rules: Vec<Descriptor>,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
struct Descriptor {
    id: &'static str,
    short_description: Message,
    help: Message,
}

#[derive(Debug, Serialize)]
struct Message {
    text: String,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
struct SarifResult {
    rule_id: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    rule_index: Option<usize>,
    level: &'static str,
    message: Message,
    locations: [Value; 1],
    partial_fingerprints: Value,
    suppressions: Vec<Suppression>,
    properties: Value,
}

#[derive(Debug, Serialize)]
struct Suppression {
    kind: &'static str,
    status: &'static str,
    justification: String,
}

impl SarifLog {
    /// The log of a check.
    pub(crate) fn new(input: &SarifInput) -> Self {
        let results = input.findings.iter().map(|f| result(f, input));
        let run = Run {
            tool: Tool {
                driver: Driver {
                    name: "lastvolt",
                    version: env!("CARGO_PKG_VERSION"),
                    rules: RULES.iter().map(|r| descriptor(r.id())).collect(),
                },
            },
            invocations: [invocation(input)],
            column_kind: "unicodeCodePoints",
            results: results.collect(),
        };
        Self {
            schema: SCHEMA,
            version: "2.1.0",
            runs: [run],
        }
    }
}

fn descriptor(id: &'static str) -> Descriptor {
    let message = |text: String| Message { text };
    Descriptor {
        id,
        short_description: message(finds(id).unwrap_or(id).to_owned()),
        help: message(format!(
            "How it is computed and on what basis: docs/rules/{id}.md"
        )),
    }
}

/// What a rule finds, as the index of its pages says it.
fn finds(id: &str) -> Option<&'static str> {
    let start = format!("| [{id}]({id}.md) | ");
    let row = INDEX.lines().find_map(|line| line.strip_prefix(&start))?;
    row.strip_suffix(" |")
}

/// That the run went to its end, with what the reader should know.
fn invocation(input: &SarifInput) -> Value {
    let notes = input.warnings.iter();
    let notes: Vec<Value> = notes
        .map(|text| json!({ "level": "note", "message": { "text": text } }))
        .collect();
    let idle = input.idle.iter().map(|d| {
        let place = physical(&d.file, d.line, d.column, &d.span, input);
        json!({
            "level": "warning",
            "descriptor": { "id": d.code },
            "message": { "text": d.says },
            "locations": [{ "physicalLocation": place }],
        })
    });
    json!({
        "executionSuccessful": true,
        "exitCode": input.status,
        "toolExecutionNotifications": notes,
        "toolConfigurationNotifications": idle.collect::<Vec<Value>>(),
    })
}

fn result(finding: &FindingView, input: &SarifInput) -> SarifResult {
    let f = finding;
    let parts = f.parts.iter().map(|part| {
        let full = match part.contains('/') {
            true => part.clone(),
            false => format!("{}/{part}", f.board),
        };
        json!({ "name": part, "fullyQualifiedName": full })
    });
    let suppression = f.accepted.iter().map(|reason| Suppression {
        kind: "inSource",
        status: "accepted",
        justification: reason.clone(),
    });
    SarifResult {
        rule_id: f.rule,
        rule_index: RULES.iter().position(|r| r.id() == f.rule),
        level: match f.severity {
            "stop" => "error",
            "fix" => "warning",
            _ => "note",
        },
        message: Message { text: told(f) },
        locations: [json!({
            "physicalLocation": physical(&f.file, f.line, f.column, &f.span, input),
            "logicalLocations": parts.collect::<Vec<Value>>(),
        })],
        partial_fingerprints: json!({ "findingId/v1": f.id }),
        suppressions: suppression.collect(),
        properties: json!({
            "board": f.board,
            "severity": f.severity,
            "situations": f.situations,
            "remedy": f.remedy,
            "basis": f.basis,
            "confidence": f.confidence,
            "also": f.also,
        }),
    }
}

/// A place in a file; it ends where its text ends, as long as that is on one line.
fn physical(
    file: &str,
    line: usize,
    column: usize,
    span: &std::ops::Range<usize>,
    input: &SarifInput,
) -> Value {
    let text = input.texts.iter().find(|t| t.name == file);
    let text = text.and_then(|t| t.text.get(span.clone()));
    let length = text
        .filter(|t| !t.contains('\n'))
        .map(|t| t.chars().count());
    let mut region = json!({ "startLine": line, "startColumn": column });
    if let Some(length) = length.filter(|n| 0 < *n) {
        region["endColumn"] = json!(column + length);
    }
    let uri = uri(&format!("{}{file}", input.prefix));
    json!({ "artifactLocation": { "uri": uri }, "region": region })
}

/// A path as a relative reference: what may not stand in one is written as bytes.
fn uri(path: &str) -> String {
    let mut out = String::new();
    for byte in path.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => {
                out.push(char::from(byte));
            }
            other => out.push_str(&format!("%{other:02X}")),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_says_what_it_finds() {
        for rule in RULES {
            assert!(finds(rule.id()).is_some(), "{} has no row", rule.id());
        }
    }

    #[test]
    fn what_may_not_stand_in_a_reference_is_written_as_bytes() {
        assert_eq!(uri("a b/ü:1.toml"), "a%20b/%C3%BC%3A1.toml");
    }
}
