//! The manual of the file format holds the reference that the readers give.

use lastvolt_input::{reference, units};

#[test]
fn the_manual_is_up_to_date() {
    let page = include_str!("../../../../docs/guide/files.md");
    for (name, text) in [("units", units()), ("reference", reference())] {
        let begin = format!("<!-- begin {name} -->\n");
        let end = format!("<!-- end {name} -->");
        let start = page.find(&begin).expect("a beginning") + begin.len();
        let stop = page.find(&end).expect("an end");
        let written = &page[start..stop];
        assert_eq!(
            written.trim(),
            text.trim(),
            "docs/guide/files.md is not up to date: put `lastvolt_input::{name}()` between its marks"
        );
    }
}
