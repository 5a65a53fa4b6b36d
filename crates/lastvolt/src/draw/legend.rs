//! The legend of a board's switches as it can be printed on the board: millimetres, and letters of
//! single strokes drawn as paths, so that no font is needed.

use std::fmt::Write as _;

use crate::draw::svg::escape;
use crate::view::LegendView;

/// How the letters are drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Silk {
    /// Height of a capital letter, from the middle of its strokes.
    pub(crate) height_mm: f64,
    /// Width of a stroke.
    pub(crate) stroke_mm: f64,
    /// How many times larger than life the picture is shown.
    pub(crate) times: f64,
}

impl Silk {
    /// What most fabricators still print legibly (common practice).
    pub(crate) const LEAST: Self = Self {
        height_mm: 0.8,
        stroke_mm: 0.15,
        times: 1.0,
    };

    /// The same for a page: letters of the height of its text.
    pub(crate) const PAGE: Self = Self {
        times: 5.0,
        ..Self::LEAST
    };
}

/// Rows and columns of the grid that letters are drawn on.
const ROWS: f64 = 6.0;
/// From one letter to the next, in columns: four for the letter, two between.
const ADVANCE: f64 = 6.0;
/// From one line to the next, in rows.
const LINE: f64 = 10.0;

/// The picture of all legends of a board; none where there is no switch.
pub(crate) fn legend(board: &str, legends: &[LegendView], silk: Silk, ink: &str) -> Option<String> {
    let lines = lines(legends);
    let longest = lines.iter().map(|l| l.chars().count()).max()?;
    let unit = silk.height_mm / ROWS;
    let edge = silk.stroke_mm.max(unit);
    #[expect(clippy::cast_precision_loss, reason = "letters of a line")]
    let columns = ADVANCE * longest as f64 - 2.0;
    #[expect(clippy::cast_precision_loss, reason = "lines of a legend")]
    let rows = LINE * (lines.len() as f64 - 1.0) + ROWS + 1.0;
    let (width, height) = (columns * unit + 2.0 * edge, rows * unit + 2.0 * edge);
    let said: Vec<&str> = lines
        .iter()
        .map(|l| l.as_str())
        .filter(|l| !l.is_empty())
        .collect();
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"legend\" role=\"img\" width=\"{:.2}mm\" height=\"{:.2}mm\" viewBox=\"0 0 {width:.3} {height:.3}\">\n<title>Switch legend of {}</title>\n<desc>{}</desc>\n",
        silk.times * width,
        silk.times * height,
        escape(board),
        escape(&said.join("; "))
    );
    for (at, line) in lines.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "lines of a legend")]
        let top = edge + LINE * unit * at as f64;
        let path = path(line, edge, top, unit);
        let _ = writeln!(
            out,
            "<path d=\"{path}\" fill=\"none\" stroke=\"{ink}\" stroke-width=\"{:.3}\" stroke-linecap=\"round\" stroke-linejoin=\"round\"/>",
            silk.stroke_mm
        );
    }
    out.push_str("</svg>\n");
    Some(out)
}

/// The lines of the legend: a switch, then its positions with what they do; a star marks the usual one,
/// and an empty line parts two switches.
fn lines(legends: &[LegendView]) -> Vec<String> {
    let mut out = Vec::new();
    for legend in legends {
        if !out.is_empty() {
            out.push(String::new());
        }
        let label = legend.label.as_ref().map_or("", String::as_str);
        out.push(format!("{} {label}", legend.part).trim_end().to_uppercase());
        let names = legend.positions.iter().map(|p| p.position.chars().count());
        let widest = names.max().unwrap_or(0);
        for row in &legend.positions {
            let mark = if row.usual { '*' } else { ' ' };
            let name = &row.position;
            // A position called `off` need not say that it does just that.
            let said = row.short.eq_ignore_ascii_case(name);
            let does = if said { "" } else { row.short.as_str() };
            let line = format!("{mark} {name:widest$}  {does}");
            out.push(line.trim_end().to_uppercase());
        }
    }
    out
}

fn path(line: &str, left: f64, top: f64, unit: f64) -> String {
    let mut out = String::new();
    for (at, letter) in line.chars().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "letters of a line")]
        let from = left + ADVANCE * unit * at as f64;
        for stroke in strokes(letter).split(';').filter(|s| !s.is_empty()) {
            for (n, point) in stroke.split(' ').enumerate() {
                let mut place = point.bytes().map(|b| f64::from(b.saturating_sub(b'0')));
                let (x, y) = (place.next().unwrap_or(0.0), place.next().unwrap_or(0.0));
                let command = if n == 0 { 'M' } else { 'L' };
                let _ = write!(out, "{command}{:.3} {:.3}", from + unit * x, top + unit * y);
            }
        }
    }
    out
}

/// A letter as strokes through points of a grid of 4 by 6, column before row, rows from the top.
/// What has no letter is an empty box.
fn strokes(letter: char) -> &'static str {
    match letter {
        ' ' => "",
        'A' => "06 02 20 42 46;04 44",
        'B' => "03 33 44 45 36 06 00 30 41 42 33",
        'C' => "41 30 10 01 05 16 36 45",
        'D' => "00 06 26 44 42 20 00",
        'E' => "40 00 06 46;03 33",
        'F' => "40 00 06;03 33",
        'G' => "41 30 10 01 05 16 36 45 43 23",
        'H' => "00 06;40 46;03 43",
        'I' => "10 30;20 26;16 36",
        'J' => "40 45 36 16 05",
        'K' => "00 06;40 03 46",
        'L' => "00 06 46",
        'M' => "06 00 23 40 46",
        'N' => "06 00 46 40",
        'O' => "10 30 41 45 36 16 05 01 10",
        'P' => "06 00 30 41 42 33 03",
        'Q' => "10 30 41 45 36 16 05 01 10;34 46",
        'R' => "06 00 30 41 42 33 03;23 46",
        'S' => "41 30 10 01 02 13 33 44 45 36 16 05",
        'T' => "00 40;20 26",
        'U' => "00 05 16 36 45 40",
        'V' => "00 26 40",
        'W' => "00 16 23 36 40",
        'X' => "00 46;40 06",
        'Y' => "00 23 40;23 26",
        'Z' => "00 40 06 46",
        '0' => "10 30 41 45 36 16 05 01 10;14 32",
        '1' => "11 20 26;16 36",
        '2' => "01 10 30 41 42 06 46",
        '3' => "00 40 23 33 44 45 36 16 05",
        '4' => "36 30 04 44",
        '5' => "40 00 02 32 43 45 36 06",
        '6' => "30 10 01 05 16 36 45 44 33 03",
        '7' => "00 40 16",
        '8' => "13 02 01 10 30 41 42 33 13 04 05 16 36 45 44 33",
        '9' => "43 13 02 01 10 30 41 45 36 16",
        '.' => "25 26",
        ',' => "25 17",
        ':' => "21 22;24 25",
        '-' => "13 33",
        '+' => "03 43;21 25",
        '*' => "21 25;02 44;04 42",
        '/' => "06 40",
        '=' => "02 42;04 44",
        '(' => "30 21 25 36",
        ')' => "10 21 25 16",
        '%' => "06 40;00 10 11 01 00;35 45 46 36 35",
        '_' => "06 46",
        _ => "00 40 46 06 00",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::view::LegendRowView;
    use crate::view::Num;

    fn one() -> Vec<LegendView> {
        let row = |position: &str, usual, short: &str| LegendRowView {
            position: position.to_owned(),
            usual,
            rails: Vec::new(),
            lit: Vec::new(),
            powered: Vec::new(),
            unpowered: Vec::new(),
            sources_a: Num(0.0),
            says: String::new(),
            short: short.to_owned(),
        };
        vec![LegendView {
            part: "S1".to_owned(),
            label: Some("<P>".to_owned()),
            positions: vec![row("on", true, "VDD 3.2V"), row("off", false, "off")],
        }]
    }

    #[test]
    fn the_legend_is_drawn_in_millimetres_and_needs_no_font() {
        let drawn = legend("coin", &one(), Silk::LEAST, "black").expect("a legend");
        assert!(!drawn.contains("<text"), "{drawn}");
        assert!(drawn.contains("* ON   VDD 3.2V;   OFF</desc>"), "{drawn}");
        assert!(drawn.contains("stroke-width=\"0.150\""));
        // 15 letters of 0.8 mm, less the gap behind the last, and an edge on both sides.
        assert!(drawn.contains("width=\"12.03mm\""), "{drawn}");
    }

    #[test]
    fn letters_grow_with_the_height_that_is_asked_for() {
        let silk = Silk {
            height_mm: 1.6,
            stroke_mm: 0.2,
            times: 1.0,
        };
        let drawn = legend("coin", &one(), silk, "black").expect("a legend");
        assert!(drawn.contains("width=\"24.00mm\""), "{drawn}");
    }

    #[test]
    fn letters_stay_on_their_grid_and_differ() {
        let all: Vec<&str> = ('!'..='_').map(strokes).collect();
        for letter in &all {
            for point in letter.split([' ', ';']).filter(|p| !p.is_empty()) {
                let place: Vec<u8> = point.bytes().map(|b| b - b'0').collect();
                assert!(
                    place.len() == 2 && place[0] <= 4 && place[1] <= 7,
                    "{point}"
                );
            }
        }
        let mut known: Vec<&str> = ('A'..='Z').chain('0'..='9').map(strokes).collect();
        known.sort_unstable();
        known.dedup();
        assert_eq!(known.len(), 36);
    }
}
