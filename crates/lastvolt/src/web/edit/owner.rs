//! What stands at a path of a file: whose key it is, and how its value is written.

use lastvolt_input::{Key, Owner, Shape, keys};
use toml_edit::Table;

use super::locate::{Node, Step, find};

/// How the value at a path is written, as far as that is known.
pub(super) fn shape_at(root: &Table, is_family: bool, path: &[Step]) -> Shape {
    let names: Vec<&str> = path.iter().map(|s| s.key().unwrap_or("#")).collect();
    match names.as_slice() {
        ["title"] if !is_family => Shape::Text,
        ["parts", _, rest @ ..] if !is_family => {
            let kind = kind(root, &path[..2]).unwrap_or_default();
            inside(&keys(Owner::Part(&kind)), rest)
        }
        // A state is a current in quotes, or a table.
        ["loads", _, "states", _] => Shape::Spread,
        ["loads", _, "states", _, rest @ ..] => inside(&keys(Owner::State), rest),
        ["loads", _, rest @ ..] => inside(&keys(Owner::Load), rest),
        ["profiles", _, "tasks", "#", "steps", "#", rest @ ..] => inside(&keys(Owner::Step), rest),
        ["profiles", _, "tasks", "#", rest @ ..] => inside(&keys(Owner::Task), rest),
        ["profiles", _, rest @ ..] => inside(&keys(Owner::Profile), rest),
        ["requirement", rest @ ..] => inside(&keys(Owner::Requirement), rest),
        ["connector", rest @ ..] => inside(&keys(Owner::Connector), rest),
        ["family", rest @ ..] => inside(&keys(Owner::Family), rest),
        _ => Shape::Other,
    }
}

/// The kind that a part says it is.
pub(super) fn kind(root: &Table, part: &[Step]) -> Option<String> {
    let mut path = part.to_vec();
    path.push(Step::Key("kind".to_owned()));
    find(root, &path).and_then(Node::text).map(str::to_owned)
}

/// How a key is written, or one in the table that it holds.
fn inside(keys: &[Key], path: &[&str]) -> Shape {
    let Some((first, rest)) = path.split_first() else {
        return Shape::Table;
    };
    let Some(key) = keys.iter().find(|k| k.key == *first) else {
        return Shape::Other;
    };
    match (key.shape, rest) {
        (shape, []) => shape,
        (Shape::Table, rest) => inside(&key.inner, rest),
        (Shape::Spread, [_]) => Shape::Value,
        // A net of a pin, a state of a load.
        (_, [_]) if matches!(*first, "pins" | "set" | "base") => Shape::Text,
        _ => Shape::Other,
    }
}

#[cfg(test)]
mod tests {
    use super::super::splice::parse;
    use super::*;

    #[test]
    fn a_path_leads_to_the_shape_of_its_field() {
        let text = "[parts.R1]\nkind = \"resistor\"\n[parts.BT1]\nkind = \"cell\"\n";
        let document = parse(text).expect("TOML");
        let shape = |path: &[&str]| {
            let step = |s: &&str| match s.parse() {
                Ok(at) => Step::At(at),
                Err(_) => Step::Key((*s).to_owned()),
            };
            let path: Vec<Step> = path.iter().map(step).collect();
            shape_at(document.as_table(), false, &path)
        };
        assert_eq!(shape(&["parts", "R1", "value"]), Shape::Spread);
        assert_eq!(shape(&["parts", "R1", "value", "typ"]), Shape::Value);
        assert_eq!(shape(&["parts", "R1", "pins", "1"]), Shape::Text);
        assert_eq!(shape(&["parts", "BT1", "series"]), Shape::Number);
        assert_eq!(shape(&["parts", "BT1", "pins", "plus"]), Shape::Text);
        assert_eq!(shape(&["parts", "BT1", "holder", "contact"]), Shape::Spread);
        assert_eq!(shape(&["loads", "b", "states", "sleep"]), Shape::Spread);
        assert_eq!(
            shape(&["profiles", "w", "tasks", "1", "every"]),
            Shape::Value
        );
        assert_eq!(
            shape(&["profiles", "w", "tasks", "0", "steps", "1", "set", "b"]),
            Shape::Text
        );
        assert_eq!(shape(&["parts", "R1", "nothing"]), Shape::Other);
    }
}
