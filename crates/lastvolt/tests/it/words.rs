//! Answers as text: what a person reads in the terminal.

use crate::program::{Folder, example_arg, run};

#[test]
fn point_reads_as_aligned_tables() {
    let folder = Folder::tiny("words-point");
    let ran = run(&["point", folder.arg(), "--state", "radio=send"]).expect(0);
    insta::assert_snapshot!(ran.out, @r"
    coin: A coin cell and a switch
    S1=on, radio=send, 20 degC, fresh cells, running

    Nets
      net  voltage
      BAT  3.065 V
      VDD  3.064 V
      GND      0 V

    Parts
      part  kind     current   voltage      power
      BT1   cell    9.000 mA   3.065 V  -27.58 mW
      S1    switch  9.000 mA  450.0 uV   4.050 uW

    Loads
      load   state   current  voltage     power
      radio  send   9.000 mA  3.064 V  27.58 mW

    Currents into every net sum to zero within a picoampere.
    ");
}

#[test]
fn matrix_reads_as_a_grid() {
    let folder = Folder::tiny("words-matrix");
    let ran = run(&["matrix", folder.arg()]).expect(0);
    insta::assert_snapshot!(ran.out, @r"
    coin: 2 situations, loads in base states, fresh cells, 20 degC

      S1      rail  loads        BT1  remarks
      on   3.200 V  powered  3.00 uA  radio voltage at 82 % of rating
      off      0 V  off          0 A

    Currents out of plus; a minus sign is current into the holder's plus. Stress above half of a rating.
    ");
}

#[test]
fn life_says_why_it_ends_and_where_the_energy_went() {
    let ran = run(&["life", &example_arg(), "--board", "coin"]).expect(0);
    let out = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "Required life:",
        "brown-out",
        "the least that it needs",
        "left in BT1",
        "fatal drop",
        "##",
    ] {
        assert!(out.contains(words), "no {words} in\n{}", ran.out);
    }
}

#[test]
fn check_names_place_figures_remedy_and_basis() {
    let ran = run(&["check", &example_arg()]).expect(0);
    for words in [
        ".toml:",
        "remedy:",
        "basis:",
        "measured",
        "4 boards checked",
        "Cautions",
    ] {
        assert!(ran.out.contains(words), "no {words} in\n{}", ran.out);
    }
}

#[test]
fn the_first_board_is_shown_where_none_is_named_and_the_others_are_told() {
    let ran = run(&["point", &example_arg()]).expect(0);
    assert!(ran.out.starts_with("coin:"), "{}", ran.out);
    assert!(
        ran.err.contains("--board shows one-cell, two-cell and usb"),
        "{}",
        ran.err
    );
}

#[test]
fn a_reversed_cell_in_a_holder_that_blocks_it_is_solved_with_a_warning() {
    let folder = Folder::tiny("words-blocked");
    let ran = run(&["point", folder.arg(), "--reverse", "BT1"]).expect(0);
    assert!(
        ran.out.contains("does not let a cell in backwards"),
        "{}",
        ran.out
    );
}

#[test]
fn deliver_reads_as_a_table_with_what_binds_and_a_caution() {
    let folder = Folder::tiny("words-deliver");
    let ran = run(&["deliver", folder.arg(), "--ambient", "usual"]).expect(0);
    // 1.8 V is reached at (3.2 V - 1.8 V) / (15 ohm + 50 mohm + contacts of S1) with fresh cells.
    for words in [
        "coin, VDD: A coin cell and a switch",
        "beside send",
        "fresh                  92.7 mA",
        "life asked for",
        "radio leaves its working range",
        "Caution: A cell",
    ] {
        assert!(ran.out.contains(words), "no {words} in\n{}", ran.out);
    }
}

#[test]
fn deliver_draws_one_board_and_says_where_it_cannot() {
    let folder = Folder::tiny("words-deliver-picture");
    let path = folder.path().join("coin.svg");
    let path = path.to_str().expect("UTF-8");
    run(&["deliver", folder.arg(), "--out", path]).expect(0);
    let drawn = std::fs::read_to_string(path).expect("the picture");
    assert!(drawn.starts_with("<svg xmlns=") && drawn.contains("<title>Output capability"));
    let example = example_arg();
    for (args, words) in [
        (vec!["--out", path], "one picture shows one board"),
        (vec!["--out", path, "--board", "usb"], "has no cells"),
        (vec!["--rail", "VD"], "did you mean `VDD`?"),
        (vec!["--rail", "SIG"], "there is no rail `SIG`"),
        (vec!["--board", "con"], "did you mean `coin`?"),
        (vec!["--set", "S9=on"], "there is no switch or jumper"),
    ] {
        let mut all = vec!["deliver", example.as_str()];
        all.extend(args);
        let ran = run(&all).expect(2);
        assert!(ran.err.contains(words), "no {words} in\n{}", ran.err);
        assert!(ran.out.is_empty());
    }
}
