//! Names and voltages of nets: each net's name once, or once a piece of it, where nothing else stands.

use crate::draw::schematic::place::graph::Graph;
use crate::draw::schematic::place::text_area;
use crate::draw::schematic::route::{Group, Wires};
use crate::draw::schematic::sheet::{Area, Place, STEP, Spot, Text, TextRole};
use crate::draw::svg::Anchor;

/// Distance of two lines of text, in pixels.
const LINE: f64 = 13.0;
/// Distance that names keep from all else, in pixels: beside them, and above and below.
const BESIDE: f64 = 3.5;
const CLEAR: f64 = 1.5;

/// Name and voltage of one net or a piece of it.
#[derive(Debug, Clone)]
pub(crate) struct Label {
    pub(crate) net: usize,
    pub(crate) name: Text,
    /// The point of the wire that the name is about.
    pub(crate) at: Spot,
    pub(crate) value: Option<Text>,
}

/// How a name stands with its voltage.
#[derive(Debug, Clone, Copy)]
enum Form<'v> {
    Under(&'v str),
    /// On one line.
    Behind(&'v str),
    Alone,
}

impl Form<'_> {
    /// Lines besides the first.
    fn rows(self) -> f64 {
        match self {
            Self::Under(_) => 1.0,
            _ => 0.0,
        }
    }
}

/// The forms in which a name is tried, the best first.
fn forms(value: Option<&str>, must: bool) -> Vec<Form<'_>> {
    match value {
        Some(value) if must => vec![Form::Under(value), Form::Behind(value), Form::Alone],
        Some(value) => vec![Form::Under(value), Form::Alone],
        None => vec![Form::Alone],
    }
}

/// The names that found a place, and what found none.
#[derive(Debug, Default)]
pub(crate) struct Labels {
    pub(crate) all: Vec<Label>,
    /// Nets of which a name found no place.
    pub(crate) missing: Vec<usize>,
    /// Nets whose voltage found none.
    pub(crate) untold: Vec<usize>,
}

/// Names of all nets with their voltages; one that must be told is tried at each piece of its net.
pub(crate) fn labels(
    graph: &Graph,
    wires: &Wires,
    values: &[Option<String>],
    must: bool,
) -> Labels {
    let mut taken = wires.taken.clone();
    for group in wires.nets.iter().flat_map(|w| &w.groups) {
        taken.extend(lines(group).map(|(a, b)| around(a, b)));
    }
    let mut found = Labels::default();
    let (out, missing) = (&mut found.all, &mut found.missing);
    for wiring in &wires.nets {
        let name = graph.names[wiring.net].clone();
        let mut value = values.get(wiring.net).cloned().flatten();
        let several = wiring.groups.len() > 1;
        let is_ground = graph.ground == Some(wiring.net);
        let mut groups: Vec<&Group> = wiring.groups.iter().collect();
        if must {
            // Wires before stubs: there the voltage is looked for.
            groups.sort_by_key(|g| g.name.is_some());
        }
        for group in groups {
            if let Some((text, at)) = &group.name {
                // Where it has no room here, the next piece of the net may have some.
                let told = value.as_ref().filter(|_| !is_ground);
                let told = told.and_then(|v| beside(text, v, &mut taken));
                if told.is_some() {
                    value = None;
                }
                out.push(Label {
                    net: wiring.net,
                    name: text.clone(),
                    at: *at,
                    value: told,
                });
                continue;
            }
            if group.ground.is_some() {
                continue;
            }
            match place(group, &name, forms(value.as_deref(), must), &taken) {
                Some((label, areas)) => {
                    taken.extend(areas);
                    value = value.filter(|_| must && label.value.is_none());
                    out.push(Label {
                        net: wiring.net,
                        ..label
                    });
                }
                None if several || !is_ground => missing.push(wiring.net),
                None => {}
            }
        }
        if value.is_some() && !is_ground {
            found.untold.push(wiring.net);
        }
    }
    found
}

/// Straight pieces of a group.
fn lines(group: &Group) -> impl Iterator<Item = (Spot, Spot)> + '_ {
    let wires = group.wires.iter();
    wires.flat_map(|w| w.windows(2).map(|p| (p[0].min(p[1]), p[0].max(p[1]))))
}

fn around(a: Spot, b: Spot) -> Area {
    Area {
        left: a.place().x,
        top: a.place().y,
        right: b.place().x,
        bottom: b.place().y,
    }
    .grown(1.0)
}

fn text(says: &str, role: TextRole, x: f64, y: f64, anchor: Anchor) -> Text {
    Text {
        says: says.to_owned(),
        role,
        at: Place { x, y },
        anchor,
    }
}

/// A voltage under, above or behind a name that stands already.
fn beside(name: &Text, value: &str, taken: &mut Vec<Area>) -> Option<Text> {
    let room = text_area(name);
    let behind = match name.anchor {
        Anchor::End => (room.left - 2.0 * BESIDE - name.at.x, 0.0),
        _ => (room.right + 2.0 * BESIDE - name.at.x, 0.0),
    };
    for (across, down) in [(0.0, LINE), (0.0, -LINE), behind] {
        let anchor = match name.anchor {
            Anchor::Middle if across != 0.0 => Anchor::Start,
            anchor => anchor,
        };
        let told = text(
            value,
            TextRole::NetValue,
            name.at.x + across,
            name.at.y + down,
            anchor,
        );
        let area = text_area(&told).grown(CLEAR);
        // The name itself stands right beside.
        let own = text_area(name);
        if taken.iter().all(|t| !t.meets(area) || *t == own) {
            taken.push(text_area(&told));
            return Some(told);
        }
    }
    None
}

/// The best free place for a name at the wires of a group.
fn place(
    group: &Group,
    name: &str,
    forms: Vec<Form>,
    taken: &[Area],
) -> Option<(Label, Vec<Area>)> {
    let mut runs = joined(lines(group).collect());
    // The longest level wire first, then the upright ones.
    runs.sort_by_key(|(a, b)| (a.y != b.y, -(b.x - a.x + b.y - a.y), *a));
    for form in forms {
        for (a, b) in &runs {
            let found = if a.y == b.y {
                level(*a, *b, name, form, taken)
            } else {
                upright(*a, *b, name, form, taken)
            };
            if found.is_some() {
                return found;
            }
        }
    }
    None
}

/// Straight pieces that go on into each other, as one.
fn joined(mut runs: Vec<(Spot, Spot)>) -> Vec<(Spot, Spot)> {
    runs.sort_unstable();
    loop {
        let mut pair = None;
        'search: for (i, (_, end)) in runs.iter().enumerate() {
            for (j, (start, far)) in runs.iter().enumerate() {
                let level = runs[i].0.y == far.y;
                let upright = runs[i].0.x == far.x;
                if i != j && end == start && (level || upright) {
                    pair = Some((i, j, *far));
                    break 'search;
                }
            }
        }
        let Some((i, j, far)) = pair else {
            return runs;
        };
        runs[i].1 = far;
        runs.remove(j);
    }
}

/// A text with the paper that it keeps around.
fn clear(area: Area) -> Area {
    Area {
        left: area.left - BESIDE,
        right: area.right + BESIDE,
        ..area.grown(CLEAR)
    }
}

fn fits(texts: &[Text], taken: &[Area]) -> Option<Vec<Area>> {
    let areas: Vec<Area> = texts.iter().map(text_area).collect();
    let free = areas
        .iter()
        .all(|a| taken.iter().all(|t| !t.meets(clear(*a))));
    free.then_some(areas)
}

fn label(texts: Vec<Text>, at: Spot, areas: Vec<Area>) -> Option<(Label, Vec<Area>)> {
    let mut texts = texts.into_iter();
    let label = Label {
        net: 0,
        name: texts.next()?,
        at,
        value: texts.next(),
    };
    Some((label, areas))
}

/// Above a level wire, or below it.
fn level(a: Spot, b: Spot, name: &str, form: Form, taken: &[Area]) -> Option<(Label, Vec<Area>)> {
    let (left, right) = (a.place().x, b.place().x);
    let y = a.place().y;
    let rows = form.rows();
    for above in [true, false] {
        let first = if above {
            y - 6.0 - rows * LINE
        } else {
            y + 13.0
        };
        let mut x = left + 3.0;
        while x < (right - 6.0).max(left + 4.0) {
            let found = told_at(name, form, (x, first), Anchor::Start);
            if let Some(areas) = fits(&found, taken) {
                return label(found, nearest(x, a, b), areas);
            }
            x += 4.0;
        }
        let found = told_at(name, form, (right - 3.0, first), Anchor::End);
        if let Some(areas) = fits(&found, taken) {
            return label(found, b, areas);
        }
    }
    None
}

/// The spot of a level wire that is nearest to where a text begins.
fn nearest(x: f64, a: Spot, b: Spot) -> Spot {
    Spot {
        x: ((x / STEP).ceil() as i32).clamp(a.x, b.x),
        y: a.y,
    }
}

/// A name, and its voltage under it or behind it.
fn told_at(name: &str, form: Form, (x, y): (f64, f64), anchor: Anchor) -> Vec<Text> {
    let mut named = text(name, TextRole::Net, x, y, anchor);
    match form {
        Form::Alone => vec![named],
        Form::Under(value) => {
            let told = text(value, TextRole::NetValue, x, y + LINE, anchor);
            vec![named, told]
        }
        Form::Behind(value) => {
            let mut told = text(value, TextRole::NetValue, x, y, anchor);
            match anchor {
                Anchor::End => named.at.x = text_area(&told).left - 2.0 * BESIDE,
                _ => told.at.x = text_area(&named).right + 2.0 * BESIDE,
            }
            vec![named, told]
        }
    }
}

/// Right of an upright wire, or left of it.
fn upright(a: Spot, b: Spot, name: &str, form: Form, taken: &[Area]) -> Option<(Label, Vec<Area>)> {
    let (top, bottom) = (a.place().y, b.place().y);
    for (side, anchor) in [(5.0, Anchor::Start), (-5.0, Anchor::End)] {
        let x = a.place().x + side;
        let mut y = top + 9.0;
        // Beside the wire first, then a little above its end.
        let above = [6.0, 3.0, 0.0, -3.0, -6.0].map(|up| top + up - form.rows() * LINE);
        let mut rows: Vec<f64> = Vec::new();
        while y < bottom + 6.0 {
            rows.push(y);
            y += 3.0;
        }
        rows.extend(above);
        for y in rows {
            let texts = told_at(name, form, (x, y), anchor);
            if let Some(areas) = fits(&texts, taken) {
                let at = Spot {
                    x: a.x,
                    y: ((y / STEP).floor() as i32).clamp(a.y, b.y),
                };
                return label(texts, at, areas);
            }
        }
    }
    None
}
