//! Against those who should not get in: other names, other sites, no token, tricks with paths, and
//! requests that no browser would send.

mod crowd;
mod garbage;
mod open;
mod ports;
mod sites;
mod writing;

use super::http::{Answer, get};
use super::served::Desk;

/// What every answer says about itself.
const POLICIES: [(&str, &str); 7] = [
    ("content-security-policy", "default-src 'none'; "),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "no-referrer"),
    ("cache-control", "no-store"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
];

/// Policies that an answer lacks.
fn lacking(answer: &Answer) -> Vec<&'static str> {
    let lacks = |(name, wanted): &(&'static str, &str)| {
        let found = answer
            .head(name)
            .is_some_and(|value| value.starts_with(wanted));
        (!found).then_some(*name)
    };
    POLICIES.iter().filter_map(lacks).collect()
}

/// Fails where the desk does not answer as ever.
fn is_well(desk: &mut Desk, after: &str) {
    assert!(desk.runs(), "the desk has ended after {after}");
    let page = get(desk.port, "/");
    assert_eq!(page.status, 200, "after {after}");
    assert!(page.text().trim_end().ends_with("</html>"), "after {after}");
}
