//! Which figures of a part stand neither in its file nor in its model, and what holds in their place.
//!
//! Switch positions, names and flags are no figures and are left out.

use crate::document::{Field, Need, Table, Takes, Value};
use crate::section::model::Models;
use crate::section::of_word;

/// A figure that is not stated.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumed {
    /// Name of the part.
    pub part: String,
    /// Its key as in the files, nested tables with dots.
    pub key: String,
    /// What holds in its place, as a file would say it or in words.
    pub stands: &'static str,
    /// What the figure is.
    pub means: &'static str,
}

/// Tables whose absence means that there is nothing of the kind: the figures in them are not assumed.
const NOT_THERE: [&str; 6] = [
    "activation",
    "enable",
    "limits",
    "rated",
    "temperature",
    "wells",
];

/// What no part of a board file states, in file order.
pub(crate) fn assumed(tree: &Table, models: &Models<'_>) -> Vec<Assumed> {
    let parts = tree.get("parts").and_then(Value::as_table);
    let mut out = Vec::new();
    for entry in parts.iter().flat_map(|t| &t.entries) {
        let Some(table) = entry.value.as_table() else {
            continue;
        };
        let word = table.get("kind").and_then(Value::as_text);
        let Some(section) = word.and_then(of_word) else {
            continue;
        };
        let model = table.get("model").and_then(Value::as_text);
        let model = model.and_then(|name| models.get(name)).map(|m| m.table);
        let layers = Layers { table, model };
        for field in section.part.iter().chain(section.model) {
            layers.push(field, &entry.key, &mut out);
        }
    }
    out
}

/// A part over its model.
struct Layers<'t> {
    table: &'t Table,
    model: Option<&'t Table>,
}

impl Layers<'_> {
    fn get(&self, key: &str) -> Option<&Value> {
        let own = self.table.get(key);
        own.or_else(|| self.model.and_then(|m| m.get(key)))
    }

    fn push(&self, field: &Field, part: &str, out: &mut Vec<Assumed>) {
        let value = self.get(field.key);
        let Takes::Table(inner) = field.takes else {
            if value.is_none() && self.matters(field) {
                out.extend(absent(field, "", part));
            }
            return;
        };
        let stated = match value.map(Value::as_table) {
            // A plain value stands for the table as a whole.
            Some(None) => return,
            Some(stated) => stated,
            None if NOT_THERE.contains(&field.key) || !self.matters(field) => return,
            None => None,
        };
        let missing = inner
            .iter()
            .filter(|f| stated.is_none_or(|t| t.get(f.key).is_none()));
        for one in missing {
            out.extend(absent(one, &format!("{}.", field.key), part));
        }
    }

    /// Whether a figure counts for anything beside what else is stated.
    fn matters(&self, field: &Field) -> bool {
        let other = match field.key {
            "loss" | "quiescent" => return self.get("efficiency").is_none(),
            "leakage_at" => "leakage",
            "cable" => "port",
            "bias" => "reference",
            _ => return true,
        };
        self.get(other).is_some()
    }
}

/// What stands for a field that is not there, where something does.
fn absent(field: &Field, path: &str, part: &str) -> Option<Assumed> {
    let figure = matches!(
        field.takes,
        Takes::Value(_) | Takes::Spread(_) | Takes::Number | Takes::Word(_) | Takes::Other(_)
    );
    let stands = match field.need {
        Need::Default(text) | Need::Otherwise(text) if figure && !text.is_empty() => text,
        _ => return None,
    };
    Some(Assumed {
        part: part.to_owned(),
        key: format!("{path}{}", field.key),
        stands,
        means: field.doc,
    })
}

#[cfg(test)]
mod tests {
    use crate::{Text, read};

    fn keys(parts: &str) -> Vec<String> {
        let text = |name: &str, text: &str| Text {
            name: name.to_owned(),
            text: text.to_owned(),
        };
        let family = "[family]\nboards = [\"b.toml\"]\n[connector]\npins = [\"VDD\", \"GND\"]\n";
        let loaded = read(&[text("family.toml", family), text("b.toml", parts)]);
        assert!(loaded.family.is_some(), "{:?}", loaded.problems);
        let all = loaded.spans.assumed("b").iter();
        all.map(|a| format!("{} {} = {}", a.part, a.key, a.stands))
            .collect()
    }

    const SWITCH: &str = "[parts.S1]\nkind = \"switch\"\npins = { 1 = \"VDD\", 2 = \"GND\" }\npositions = { on = [[\"1\", \"2\"]], off = [] }\n";

    #[test]
    fn a_default_is_told_until_it_is_stated() {
        assert_eq!(
            keys(SWITCH),
            ["S1 action = break-first", "S1 contact = 50 mohm"]
        );
        let stated = format!("{SWITCH}contact = \"50 mohm\"\naction = \"make-first\"\n");
        assert!(keys(&stated).is_empty());
    }

    #[test]
    fn a_model_states_for_its_parts() {
        let model = "[models.small]\nkind = \"switch\"\ncontact = \"30 mohm\"\n";
        let text = format!("{SWITCH}model = \"small\"\n{model}");
        assert_eq!(keys(&text), ["S1 action = break-first"]);
    }

    #[test]
    fn figures_of_nested_tables_have_dotted_keys_and_tables_that_are_not_there_none() {
        let cell = "[parts.BT1]\nkind = \"cell\"\nmodel = \"CR2032\"\npins = { plus = \"VDD\", minus = \"GND\" }\n";
        let bare = keys(cell);
        assert!(
            bare.contains(&"BT1 holder.contact = 0 ohm".to_owned()),
            "{bare:?}"
        );
        assert!(!bare.iter().any(|k| k.contains("enable")), "{bare:?}");
        let held = format!("{cell}holder = {{ contact = \"50 mohm\" }}\n");
        let kept = keys(&held);
        assert!(
            kept.contains(&"BT1 holder.reversed = possible".to_owned()),
            "{kept:?}"
        );
        assert!(
            !kept.iter().any(|k| k.contains("holder.contact")),
            "{kept:?}"
        );
    }
}
