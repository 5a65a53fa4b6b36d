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
