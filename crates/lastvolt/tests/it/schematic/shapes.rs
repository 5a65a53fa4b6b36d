//! Points, upright rectangles and upright lines, as the proof of the drawings needs them.
//!
//! Points are whole tenths of a pixel, so that touching is exact.

use std::fmt;

/// A place in tenths of a pixel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Point {
    pub(super) x: i64,
    pub(super) y: i64,
}

impl Point {
    /// From pixels.
    pub(super) fn new(x: f64, y: f64) -> Self {
        // A drawing is some thousand pixels wide, far inside of what fits.
        #[expect(clippy::cast_possible_truncation, reason = "coordinates are small")]
        let tenths = |v: f64| (v * 10.0).round() as i64;
        Self {
            x: tenths(x),
            y: tenths(y),
        }
    }
}

impl fmt::Display for Point {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "({}, {})", px(self.x), px(self.y))
    }
}

/// Tenths of a pixel as pixels.
#[expect(clippy::cast_precision_loss, reason = "coordinates are small")]
pub(super) fn px(tenths: i64) -> f64 {
    tenths as f64 / 10.0
}

/// An upright rectangle, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

/// What two rectangles may share before they count as overlapping, in pixels: less than rounding to
/// one decimal moves them.
const TOUCH: f64 = 0.11;

impl Area {
    /// Around nothing: grows with what is added.
    pub(super) const NONE: Self = Self {
        left: f64::INFINITY,
        top: f64::INFINITY,
        right: f64::NEG_INFINITY,
        bottom: f64::NEG_INFINITY,
    };

    /// Takes a point in.
    pub(super) fn add(&mut self, x: f64, y: f64) {
        self.left = self.left.min(x);
        self.right = self.right.max(x);
        self.top = self.top.min(y);
        self.bottom = self.bottom.max(y);
    }

    /// Whether the insides of two rectangles meet; a rectangle without width counts as a line.
    pub(super) fn meets(&self, other: &Self) -> bool {
        let apart = other.right - TOUCH <= self.left
            || self.right - TOUCH <= other.left
            || other.bottom - TOUCH <= self.top
            || self.bottom - TOUCH <= other.top;
        !apart
    }

    /// Whether another lies inside.
    pub(super) fn holds(&self, other: &Self) -> bool {
        self.left <= other.left + TOUCH
            && self.top <= other.top + TOUCH
            && other.right <= self.right + TOUCH
            && other.bottom <= self.bottom + TOUCH
    }
}

impl fmt::Display for Area {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            left,
            top,
            right,
            bottom,
        } = self;
        write!(f, "[{left:.1} {top:.1} {right:.1} {bottom:.1}]")
    }
}

/// A level or upright line from `a` to `b`, where `a` is the upper or left end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Line {
    pub(super) a: Point,
    pub(super) b: Point,
}

impl Line {
    /// Between two points in any order.
    pub(super) fn new(a: Point, b: Point) -> Self {
        Self {
            a: a.min(b),
            b: a.max(b),
        }
    }

    fn level(&self) -> bool {
        self.a.y == self.b.y
    }

    /// Whether a point lies on it, ends included.
    pub(super) fn has(&self, p: Point) -> bool {
        (self.a.x..=self.b.x).contains(&p.x) && (self.a.y..=self.b.y).contains(&p.y)
    }

    /// Whether two lines share more than a point.
    pub(super) fn runs_along(&self, other: &Self) -> bool {
        if self.level() != other.level() {
            return false;
        }
        let shared = |a: i64, b: i64, c: i64, d: i64| b.min(d) - a.max(c);
        if self.level() {
            self.a.y == other.a.y && 0 < shared(self.a.x, self.b.x, other.a.x, other.b.x)
        } else {
            self.a.x == other.a.x && 0 < shared(self.a.y, self.b.y, other.a.y, other.b.y)
        }
    }

    /// The line as a rectangle as wide as its stroke.
    pub(super) fn area(&self) -> Area {
        let half = 0.6;
        Area {
            left: px(self.a.x) - half,
            top: px(self.a.y) - half,
            right: px(self.b.x) + half,
            bottom: px(self.b.y) + half,
        }
    }

    /// The ends of what of it lies inside of a rectangle.
    pub(super) fn inside(&self, area: &Area) -> Option<(Point, Point)> {
        let near = 0.3;
        let (x0, x1) = (
            px(self.a.x).max(area.left + near),
            px(self.b.x).min(area.right - near),
        );
        let (y0, y1) = (
            px(self.a.y).max(area.top + near),
            px(self.b.y).min(area.bottom - near),
        );
        let there = x0 <= x1 && y0 <= y1 && (x0 < x1 || y0 < y1);
        there.then(|| (Point::new(x0, y0), Point::new(x1, y1)))
    }

    /// To which sides it goes on from a point on it: left, right, up, down.
    pub(super) fn arms(&self, p: Point) -> [bool; 4] {
        [
            self.level() && self.a.x < p.x,
            self.level() && p.x < self.b.x,
            !self.level() && self.a.y < p.y,
            !self.level() && p.y < self.b.y,
        ]
    }
}
