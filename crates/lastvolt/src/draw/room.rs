//! What a picture has taken already: boxes of words and marks, and lines that words had better not cross.

use crate::draw::svg::Anchor;
use crate::draw::words::width_of;

/// Left, top, right and bottom.
pub(crate) type Bounds = [f64; 4];

/// Size of the letters of a class, as the style sheet has it.
pub(crate) fn size_of(class: &str) -> f64 {
    match class {
        "label" | "small" | "mark" | "inband" | "said" => 12.5,
        _ => 13.0,
    }
}

/// The room of a text: at most so wide, and as high as its letters reach.
pub(crate) fn text_box(class: &str, anchor: Anchor, (x, y): (f64, f64), text: &str) -> Bounds {
    let (width, size) = (width_of(text, class), size_of(class));
    let left = match anchor {
        Anchor::Start => x,
        Anchor::Middle => x - width / 2.0,
        Anchor::End => x - width,
    };
    [left, y - 0.78 * size, left + width, y + 0.24 * size]
}

/// Whether two boxes share room.
pub(crate) fn meet(a: &Bounds, b: &Bounds) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

/// Whether a straight line passes through a box.
pub(crate) fn passes((x1, y1): (f64, f64), (x2, y2): (f64, f64), of: &Bounds) -> bool {
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (from, to, low, high) in [(x1, x2, of[0], of[2]), (y1, y2, of[1], of[3])] {
        let way = to - from;
        if way.abs() < 1e-9 {
            if from <= low || high <= from {
                return false;
            }
            continue;
        }
        let (a, b) = ((low - from) / way, (high - from) / way);
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    enter < leave
}

/// Boxes and lines of a picture.
#[derive(Debug, Clone, Default)]
pub(crate) struct Room {
    boxes: Vec<Bounds>,
    lines: Vec<[(f64, f64); 2]>,
}

impl Room {
    pub(crate) fn take(&mut self, place: Bounds) {
        self.boxes.push(place);
    }

    pub(crate) fn cross(&mut self, from: (f64, f64), to: (f64, f64)) {
        self.lines.push([from, to]);
    }

    /// Whether a box would cover words or marks.
    pub(crate) fn covers(&self, own: &Bounds) -> bool {
        self.boxes.iter().any(|b| meet(b, own))
    }

    /// How many lines a box would lie on.
    pub(crate) fn crossed(&self, own: &Bounds) -> usize {
        let lines = self.lines.iter();
        lines.filter(|[a, b]| passes(*a, *b, own)).count()
    }
}

/// Places near the wanted ones, in their order, such that each label has its height and, where there is
/// room enough, none leaves the frame.
pub(crate) fn spread(wanted: &[f64], heights: &[f64], (top, bottom): (f64, f64)) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]));
    let mut places = wanted.to_vec();
    let half = |at: usize| heights.get(at).copied().unwrap_or(0.0) / 2.0;
    let mut free = top;
    for &at in &order {
        places[at] = wanted[at].max(free + half(at));
        free = places[at] + half(at);
    }
    let mut free = bottom.max(top + heights.iter().sum::<f64>());
    for &at in order.iter().rev() {
        places[at] = places[at].min(free - half(at));
        free = places[at] - half(at);
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_that_meet_stand_apart_and_stay_inside() {
        let places = spread(&[100.0, 100.0, 98.0, 0.0], &[15.0; 4], (0.0, 100.0));
        let mut sorted = places.clone();
        sorted.sort_by(f64::total_cmp);
        assert!(
            sorted.windows(2).all(|w| 14.999 <= w[1] - w[0]),
            "{places:?}"
        );
        assert!(
            places.iter().all(|p| (7.4..=92.6).contains(p)),
            "{places:?}"
        );
        assert!(places[2] < places[0], "order is kept: {places:?}");
    }

    #[test]
    fn a_line_through_a_box_is_seen_and_one_beside_it_is_not() {
        let of = [10.0, 10.0, 20.0, 20.0];
        assert!(passes((0.0, 0.0), (30.0, 30.0), &of));
        assert!(passes((15.0, 0.0), (15.0, 30.0), &of));
        assert!(!passes((5.0, 0.0), (5.0, 30.0), &of));
        assert!(!passes((0.0, 25.0), (30.0, 40.0), &of));
        assert!(!passes((0.0, 0.0), (5.0, 5.0), &of));
    }
}
