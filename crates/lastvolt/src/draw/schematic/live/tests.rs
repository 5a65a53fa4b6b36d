//! Drawings that live: what they say, where their links lead, and that they show what is set.

use lastvolt_core::model::{Board, Device, Family};

use super::{BTreeMap, Live, Situation, UNKNOWN};
use crate::draw::schematic::set::{Set, WIDEST};
use crate::draw::schematic::sheet::{Reading, TextRole};
use crate::draw::schematic::words::example;
use crate::draw::schematic::{stack, with_own_loads};

/// The usual situation of boards.
pub(super) fn usual(family: &Family, names: &[String]) -> Situation {
    Situation::usual(family, names, family.profiles.first())
}

/// Every switch in its last or first position, whichever is not usual, every cell backwards, every supply
/// taken out.
pub(super) fn otherwise(family: &Family, boards: &[&Board], usual: &Situation) -> Situation {
    let mut out = usual.clone();
    for board in boards {
        let set = Set {
            family,
            board,
            situation: usual,
        };
        for part in &board.parts {
            let name = set.name(&part.name);
            match &part.device {
                Device::Switch(switch) => {
                    let last = switch.positions.len() - 1;
                    let other = if switch.usual == last { 0 } else { last };
                    out.positions
                        .insert(name, switch.positions[other].name.clone());
                }
                Device::Cell(_) => {
                    out.reversed.insert(name);
                }
                Device::Supply(_) => {
                    out.absent.insert(name);
                }
                _ => {}
            }
        }
    }
    out
}

/// The widest text of every reading.
pub(super) fn widest(
    family: &Family,
    boards: &[&Board],
    situation: &Situation,
) -> BTreeMap<String, String> {
    let mut out = BTreeMap::new();
    for board in boards {
        let set = Set {
            family,
            board,
            situation,
        };
        let whole = with_own_loads(board);
        for net in &whole.nets {
            out.insert(format!("net:{}", set.net(net)), WIDEST.to_owned());
        }
        for part in &whole.parts {
            let key = set.key(part);
            for (role, says) in set.rooms(part) {
                let what = match role {
                    TextRole::Reading(Reading::Mode) => "mode",
                    TextRole::Reading(Reading::Current) => "current",
                    _ => "loss",
                };
                out.insert(format!("{key}:{what}"), says);
            }
        }
    }
    for load in &family.loads {
        let longest = load.states.iter().map(|s| s.name.clone());
        let longest = longest.max_by_key(|n| n.chars().count());
        out.insert(
            format!("load:{}:mode", load.name),
            longest.unwrap_or_default(),
        );
        for what in ["current", "loss"] {
            out.insert(format!("load:{}:{what}", load.name), WIDEST.to_owned());
        }
    }
    out
}

fn svg(names: &[&str], set: impl Fn(&mut Situation), chosen: Option<&str>) -> String {
    let family = example();
    let names: Vec<String> = names.iter().map(|n| (*n).to_owned()).collect();
    let boards: Vec<&Board> = names.iter().filter_map(|n| family.board(n)).collect();
    let mut situation = usual(&family, &names);
    set(&mut situation);
    let texts = BTreeMap::from([
        ("net:VDD".to_owned(), "3.28\u{a0}V".to_owned()),
        ("part:C1:current".to_owned(), String::new()),
    ]);
    let live = Live {
        situation: &situation,
        texts: &texts,
        href: &|key| format!("/board/coin?select={key}&depth=0.4"),
        chosen,
    };
    stack::live(&family, &boards, &live).inside()
}

fn count(text: &str, of: &str) -> usize {
    text.matches(of).count()
}

#[test]
fn figures_that_are_known_stand_and_others_are_dashes() {
    let svg = svg(&["coin"], |_| {}, None);
    assert!(svg.contains("role=\"group\""));
    let reading = |key: &str| {
        let found = svg
            .split_once(&format!(" data-reading=\"{key}\""))
            .expect(key)
            .1;
        let found = found.split_once('>').expect("a text").1;
        found.split('<').next().expect("its end").to_owned()
    };
    assert_eq!(reading("net:VDD"), "3.28\u{a0}V");
    assert_eq!(reading("part:C1:current"), "");
    assert_eq!(reading("part:C1:loss"), UNKNOWN);
    assert_eq!(reading("part:S1:mode"), "on");
    assert_eq!(reading("part:BT1:mode"), "");
    assert_eq!(reading("load:beacon:mode"), "sleep");
    // One text a reading, nothing inside of it.
    assert!(!svg.contains("<tspan"));
    assert_eq!(count(&svg, "data-reading=\"part:S1:current\""), 1);
    assert_eq!(count(&svg, "data-reading=\"part:S1:loss\""), 0);
}

#[test]
fn parts_come_first_in_the_order_of_the_file_then_nets() {
    let svg = svg(&["coin"], |_| {}, None);
    let picks = svg.split("data-pick=\"").skip(1);
    let picks: Vec<&str> = picks
        .map(|p| p.split('"').next().expect("an end"))
        .collect();
    let parts: Vec<&&str> = picks
        .iter()
        .take_while(|p| p.starts_with("part:"))
        .collect();
    let family = example();
    let board = family.board("coin").expect("a board");
    let wanted: Vec<String> = board
        .parts
        .iter()
        .map(|p| format!("part:{}", p.name))
        .collect();
    assert_eq!(
        parts,
        wanted
            .iter()
            .map(String::as_str)
            .collect::<Vec<_>>()
            .iter()
            .collect::<Vec<_>>()
    );
    assert!(picks[parts.len()].starts_with("net:"));
    assert!(picks.contains(&"load:beacon"));
    assert!(svg.contains("aria-label=\"R1, resistor, 10\u{a0}kΩ ±5\u{a0}%, from BLEED to GND\""));
    assert!(svg.contains("href=\"/board/coin?select=part:R1&amp;depth=0.4\""));
}

#[test]
fn one_thing_is_chosen_and_says_so() {
    let svg = svg(&["coin"], |_| {}, Some("part:R1"));
    assert_eq!(count(&svg, "class=\"pick chosen\""), 1);
    assert_eq!(count(&svg, "aria-current=\"true\""), 1);
    let link = svg
        .split("<a ")
        .find(|a| a.contains("pick chosen"))
        .expect("a link");
    assert!(link.contains("data-pick=\"part:R1\"") && link.contains("class=\"frame\""));
}

#[test]
fn what_is_set_is_drawn() {
    let usual = svg(&["coin"], |_| {}, None);
    assert!(!usual.contains("part reversed") && !usual.contains("part absent"));
    let off = svg(
        &["coin"],
        |s| {
            s.positions.insert("S1".to_owned(), "off".to_owned());
        },
        None,
    );
    assert!(off.contains("Drawn with S1 in off") && usual.contains("Drawn with S1 in on"));
    let strokes = |svg: &str| -> Vec<String> {
        let part = svg.split("data-part=\"S1\"").nth(1).expect("the switch");
        let part = part.split("</g>").next().expect("its end");
        let lines = part
            .lines()
            .filter(|l| l.starts_with("<path class=\"sym\""));
        lines.map(str::to_owned).collect()
    };
    assert_eq!(strokes(&off).len(), strokes(&usual).len());
    assert_ne!(strokes(&off), strokes(&usual));
    let back = svg(
        &["coin"],
        |s| {
            s.reversed.insert("BT1".to_owned());
        },
        None,
    );
    assert!(back.contains("class=\"part reversed\"") && back.contains(">reversed</text>"));
    let gone = svg(
        &["usb"],
        |s| {
            s.absent.insert("J1".to_owned());
        },
        None,
    );
    assert!(gone.contains("class=\"part absent\"") && gone.contains(">taken out</text>"));
    let one = svg(
        &["two-cell"],
        |s| {
            s.reversed.insert("BT1.2".to_owned());
        },
        None,
    );
    assert!(one.contains(">reversed: 2</text>"));
}

#[test]
fn in_stacks_names_are_those_of_the_circuit() {
    let svg = svg(
        &["coin", "two-cell"],
        |s| {
            s.reversed.insert("coin/BT1".to_owned());
        },
        Some("net:coin/BAT"),
    );
    assert!(svg.contains("data-reading=\"part:coin/R1:current\""));
    assert!(
        svg.contains("data-reading=\"net:coin/BAT\"") && svg.contains("data-reading=\"net:VDD\"")
    );
    assert!(!svg.contains("data-reading=\"net:coin/VDD\""));
    assert_eq!(count(&svg, "class=\"part reversed\""), 1);
    assert_eq!(count(&svg, "class=\"pick chosen\""), 1);
}

#[test]
fn readings_of_a_board_are_those_that_it_has() {
    let family = example();
    for board in &family.boards {
        let svg = svg(&[board.name.as_str()], |_| {}, None);
        for part in &board.parts {
            let wanted = usize::from(!matches!(part.device, Device::TestPoint));
            let key = format!("data-reading=\"part:{}:current\"", part.name);
            assert_eq!(count(&svg, &key), wanted, "{} {}", board.name, part.name);
        }
    }
}
