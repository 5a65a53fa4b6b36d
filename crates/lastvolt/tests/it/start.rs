//! `new`: a family that reviews clean, and never a file overwritten.

use std::fs;

use crate::program::{Folder, run};

#[test]
fn a_new_family_reviews_without_anything_to_stop_at_or_fix() {
    let folder = Folder::new("new-clean");
    let dir = format!("{}/mine", folder.arg());
    let ran = run(&["new", &dir]).expect(0);
    assert!(ran.out.contains("lastvolt review"), "{}", ran.out);
    run(&["check", &dir, "--fail-on", "fix"]).expect(0);
    run(&["review", &dir, "--fail-on", "fix"]).expect(0);
}

#[test]
fn nothing_is_overwritten_and_nothing_written_where_one_file_is_there() {
    let folder = Folder::new("new-kept");
    folder.write("coin.toml", "mine");
    let ran = run(&["new", folder.arg()]).expect(2);
    assert!(ran.err.contains("coin.toml"), "{}", ran.err);
    assert_eq!(folder.names(), ["coin.toml"]);
    assert_eq!(
        fs::read_to_string(folder.path().join("coin.toml")).unwrap(),
        "mine"
    );
}

#[test]
fn a_second_new_changes_nothing() {
    let folder = Folder::new("new-twice");
    run(&["new", folder.arg()]).expect(0);
    let names = folder.names();
    let family = fs::read_to_string(folder.path().join("family.toml")).unwrap();
    fs::write(folder.path().join("family.toml"), "changed").unwrap();
    run(&["new", folder.arg()]).expect(2);
    assert_eq!(folder.names(), names);
    assert_ne!(family, "changed");
    assert_eq!(
        fs::read_to_string(folder.path().join("family.toml")).unwrap(),
        "changed"
    );
}

#[test]
fn a_file_in_the_way_of_the_folder_is_left_alone() {
    let folder = Folder::new("new-file");
    folder.write("taken", "mine");
    let ran = run(&["new", &format!("{}/taken", folder.arg())]).expect(2);
    assert!(ran.err.contains("taken"), "{}", ran.err);
    assert_eq!(
        fs::read_to_string(folder.path().join("taken")).unwrap(),
        "mine"
    );
}
