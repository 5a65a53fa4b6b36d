//! What a drawing is made of before it becomes SVG: symbols in place, wires on a grid, texts with the
//! room that they take.

/// Distance of two lines of the grid, in pixels: terminals stand on it, wires run along it.
pub(crate) const STEP: f64 = 10.0;

/// A crossing of two lines of the grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Spot {
    /// Steps to the right.
    pub(crate) x: i32,
    /// Steps down.
    pub(crate) y: i32,
}

/// A place in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Place {
    pub(crate) x: f64,
    pub(crate) y: f64,
}

/// An upright rectangle in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Area {
    pub(crate) left: f64,
    pub(crate) top: f64,
    pub(crate) right: f64,
    pub(crate) bottom: f64,
}

/// Where a wire leaves a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    Left,
    Up,
    Right,
    Down,
}

/// A pin of a part as its symbol shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Terminal {
    /// Its place in the part's list of pins.
    pub(crate) pin: usize,
    /// Where a wire ends at it.
    pub(crate) at: Spot,
    /// To which side a wire leaves it.
    pub(crate) side: Side,
}

/// A line of a symbol, in pixels about the symbol's origin.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Stroke {
    /// Straight pieces one after the other.
    Line(Vec<Place>),
    /// A closed shape, full of ink or hollow.
    Shape { corners: Vec<Place>, filled: bool },
    /// A circle.
    Ring {
        centre: Place,
        radius: f64,
        filled: bool,
    },
    /// Half circles from the first place to the second, bulging to the left of the way.
    Bows { from: Place, to: Place, count: u8 },
    /// A broken line: a mechanical link, or the frame of what belongs together.
    Dashes(Vec<Place>),
    /// Nothing: room for lines that are drawn when a part is set otherwise.
    Room(Vec<Place>),
}

/// A text that belongs to a symbol or a net.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Text {
    pub(crate) says: String,
    pub(crate) role: TextRole,
    /// Where its base line begins, ends or has its middle.
    pub(crate) at: Place,
    pub(crate) anchor: crate::draw::svg::Anchor,
}

/// What a text says, which decides how it looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum TextRole {
    /// Reference designator.
    Designator,
    /// Value or model.
    Value,
    /// Name of a pin, or of the position in which a contact is closed.
    Pin,
    /// Name of a net.
    Net,
    /// Voltage of a net.
    NetValue,
    /// Name of a board or of a frame.
    Heading,
    /// A figure or a word of a part that changes.
    Reading(Reading),
}

/// What a reading of a part says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Reading {
    /// State, position or way round, in a word.
    Mode,
    Current,
    /// Power that becomes heat; of a source what it gives, of a load what it takes.
    Loss,
}

impl TextRole {
    /// Size of its letters in pixels; all are of one width.
    pub(crate) fn size(self) -> f64 {
        match self {
            Self::Designator | Self::Heading => 12.0,
            Self::Value | Self::Net | Self::NetValue | Self::Reading(_) => 11.0,
            Self::Pin => 9.0,
        }
    }
}

/// A symbol about its origin, or one pole of a switch.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Symbol {
    pub(crate) strokes: Vec<Stroke>,
    pub(crate) terminals: Vec<Terminal>,
    /// Texts inside: names of pins, of positions.
    pub(crate) texts: Vec<Text>,
    /// What it covers, leads and texts included: no wire of another net and no text may enter.
    pub(crate) body: Area,
}

/// A part, or a piece of one, before it has a place.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Piece {
    /// The part's place in its board's list.
    pub(crate) part: usize,
    /// Which piece of the part, from 0.
    pub(crate) piece: usize,
    pub(crate) symbol: Symbol,
    /// The lines that stand beside it: designator first, then value or model; short.
    pub(crate) lines: Vec<(TextRole, String)>,
}
