//! Widths of pages: every picture of the report is drawn for a wide one and anew for a narrow one.

use crate::draw::svg::Canvas;

/// For which page a picture is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Size {
    /// A window of a computer, and paper.
    Wide,
    /// A telephone.
    Narrow,
}

impl Size {
    /// Width of the picture in pixels.
    pub(crate) const fn width(self) -> f64 {
        match self {
            Self::Wide => 860.0,
            Self::Narrow => 340.0,
        }
    }

    /// The one of two values that is for this width.
    pub(crate) fn pick<T>(self, wide: T, narrow: T) -> T {
        match self {
            Self::Wide => wide,
            Self::Narrow => narrow,
        }
    }

    /// By this class the style sheet shows one of the two.
    pub(crate) const fn attribute(self) -> &'static str {
        match self {
            Self::Wide => " class=\"wide\"",
            Self::Narrow => " class=\"narrow\"",
        }
    }
}

/// A picture for both widths, one after the other; a page shows one of them.
pub(crate) fn both(draw: impl Fn(Size) -> Canvas) -> String {
    draw(Size::Wide).finish() + &draw(Size::Narrow).finish()
}
