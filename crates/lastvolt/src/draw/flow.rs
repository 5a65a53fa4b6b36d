//! Where energy goes: one stream leaves the cells and parts into what reaches loads, what is lost on the
//! way and what is never drawn, each as thick as its share.

use crate::draw::room::spread;
use crate::draw::size::Size;
use crate::draw::svg::{Anchor, Canvas};
use crate::draw::words::{cut, wrap_most};
use crate::report::typeset;
use crate::text::number::percent;

/// Where a part of the energy goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Goes {
    ToLoads,
    Lost,
    Unused,
}

/// A part of the energy.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Stream {
    pub(crate) name: String,
    pub(crate) goes: Goes,
    /// Its share of the whole; one that is not above zero is no stream.
    pub(crate) share: f64,
    /// The same in joules, in words.
    pub(crate) said: String,
}

/// A picture of a ledger.
pub(crate) struct FlowPicture {
    pub(crate) title: String,
    pub(crate) description: String,
    /// What the stream comes from, in words.
    pub(crate) from: String,
    pub(crate) streams: Vec<Stream>,
}

/// Streams below this share are gathered.
const SMALL: f64 = 0.012;
/// Streams of one kind that are drawn at most.
const MOST: usize = 8;
/// Height of the whole stream.
const WHOLE: f64 = 240.0;
const TOP: f64 = 48.0;
/// Height of the words of a kind.
const HEAD: f64 = 20.0;
/// Thickness of the block that it leaves.
const BLOCK: f64 = 14.0;

/// One stream in place: its upper edge where it leaves, where it arrives, and its thickness.
struct Ribbon<'s> {
    stream: &'s Stream,
    leaves: f64,
    arrives: f64,
    thick: f64,
}

impl FlowPicture {
    /// The picture for one width of page.
    pub(crate) fn canvas(&self, size: Size) -> Canvas {
        let streams = gathered(&self.streams);
        let row = size.pick(19.0, 36.0);
        let (block, end) = size.pick((118.0, 370.0), (8.0, 96.0));
        let words = size.width() - end - 24.0;
        let heights = heights(&streams, row);
        let tall = WHOLE.max(heights.iter().sum());
        let foot = TOP + tall + 12.0;
        let mut canvas = Canvas::sized(size, foot, &self.title, &self.description);
        self.draw_source(&mut canvas, (block, tall), size);
        let ribbons = ribbons(&streams, &heights, tall);
        for ribbon in &ribbons {
            draw_ribbon(&mut canvas, ribbon, (block + BLOCK, end));
        }
        let mut last = None;
        for ribbon in &ribbons {
            let goes = ribbon.stream.goes;
            let middle = ribbon.arrives + ribbon.thick / 2.0;
            if last != Some(goes) {
                let y = ribbon.arrives.min(middle - row / 2.0) - 5.0;
                let sum = share_of(&self.streams, goes);
                let head = format!("{}: {}", head(goes), percent(sum));
                let head = cut(&typeset(&head), "mark", words);
                canvas.text("mark", Anchor::Start, end + 12.0, y, &head);
            }
            last = Some(goes);
            draw_words(
                &mut canvas,
                ribbon.stream,
                (end + 12.0, middle),
                words,
                size,
            );
        }
        canvas
    }

    fn draw_source(&self, canvas: &mut Canvas, (block, tall): (f64, f64), size: Size) {
        let top = TOP + (tall - WHOLE) / 2.0;
        canvas.rect("bar", [block, top, BLOCK, WHOLE]);
        match size {
            Size::Wide => {
                let lines = wrap_most(&self.from, "direct", block - 18.0, 5);
                #[expect(clippy::cast_precision_loss, reason = "a few lines")]
                let mut y = top + WHOLE / 2.0 - 8.0 * lines.len() as f64 + 12.0;
                for line in lines {
                    canvas.text("direct", Anchor::End, block - 10.0, y, &line);
                    y += 16.0;
                }
            }
            Size::Narrow => {
                let line = cut(&self.from, "direct", size.width() - 16.0);
                canvas.text("direct", Anchor::Start, 8.0, 18.0, &line);
            }
        }
    }
}

/// Words of a kind.
fn head(goes: Goes) -> &'static str {
    match goes {
        Goes::ToLoads => "reaches the loads",
        Goes::Lost => "lost on the way",
        Goes::Unused => "never given",
    }
}

fn of(streams: &[Stream], goes: Goes) -> impl Iterator<Item = &Stream> {
    streams.iter().filter(move |s| s.goes == goes)
}

/// Share of all streams of a kind.
pub(crate) fn share_of(streams: &[Stream], goes: Goes) -> f64 {
    of(streams, goes).map(|s| s.share.max(0.0)).sum()
}

/// Height that each stream takes where it arrives: its own or that of its words, with the words of its
/// kind above the first of a kind.
fn heights(streams: &[Stream], row: f64) -> Vec<f64> {
    let whole = whole(streams);
    let each = streams
        .iter()
        .enumerate()
        .map(|(at, stream)| (WHOLE * stream.share / whole).max(row) + head_room(streams, at));
    each.collect()
}

fn whole(streams: &[Stream]) -> f64 {
    streams.iter().map(|s| s.share).sum::<f64>().max(1e-12)
}

/// Room for the words of a kind above its first stream.
fn head_room(streams: &[Stream], at: usize) -> f64 {
    let before = at.checked_sub(1).map(|b| streams[b].goes);
    if before == Some(streams[at].goes) {
        0.0
    } else {
        HEAD
    }
}

/// By kind, the largest first, small ones of a kind as one.
fn gathered(streams: &[Stream]) -> Vec<Stream> {
    let mut out = Vec::new();
    for goes in [Goes::ToLoads, Goes::Lost, Goes::Unused] {
        let mut own: Vec<&Stream> = of(streams, goes).filter(|s| 0.0 < s.share).collect();
        own.sort_by(|a, b| b.share.total_cmp(&a.share));
        let large = own.iter().take_while(|s| SMALL <= s.share).count();
        let mut large = large.min(MOST);
        if own.len() == large + 1 {
            // One small stream keeps its name.
            large += 1;
        }
        let small = own.split_off(large);
        out.extend(own.into_iter().cloned());
        if !small.is_empty() {
            let names: Vec<&str> = small.iter().map(|s| s.name.as_str()).collect();
            let share: f64 = small.iter().map(|s| s.share).sum();
            out.push(Stream {
                name: format!("others: {}", names.join(", ")),
                goes,
                share,
                said: String::new(),
            });
        }
    }
    out
}

/// Streams in place: they leave side by side and arrive where their words have room.
fn ribbons<'s>(streams: &'s [Stream], heights: &[f64], tall: f64) -> Vec<Ribbon<'s>> {
    let whole = whole(streams);
    let mut leaves = TOP + (tall - WHOLE) / 2.0;
    let mut wanted = Vec::new();
    let mut out: Vec<Ribbon> = Vec::new();
    for (at, stream) in streams.iter().enumerate() {
        let thick = WHOLE * stream.share / whole;
        let middle = leaves + (thick - head_room(streams, at)) / 2.0;
        // Thin ones keep their order too.
        let before: f64 = wanted.last().copied().unwrap_or(f64::MIN);
        wanted.push(middle.max(before));
        out.push(Ribbon {
            stream,
            leaves,
            arrives: leaves,
            thick,
        });
        leaves += thick;
    }
    let places = spread(&wanted, heights, (TOP - HEAD, TOP - HEAD + tall));
    for (at, ribbon) in out.iter_mut().enumerate() {
        let middle = places[at] + head_room(streams, at) / 2.0;
        ribbon.arrives = middle - ribbon.thick / 2.0;
    }
    out
}

fn draw_ribbon(canvas: &mut Canvas, ribbon: &Ribbon, (from, to): (f64, f64)) {
    let class = match ribbon.stream.goes {
        Goes::ToLoads => "stream-used",
        Goes::Lost => "stream-lost",
        Goes::Unused => "stream-left",
    };
    let thick = ribbon.thick.max(0.8);
    let (a, b) = (ribbon.leaves, ribbon.arrives);
    let turn = f64::midpoint(from, to);
    let path = format!(
        "M{from:.1} {a:.1}C{turn:.1} {a:.1} {turn:.1} {b:.1} {to:.1} {b:.1}V{:.1}C{turn:.1} {:.1} {turn:.1} {:.1} {from:.1} {:.1}Z",
        b + thick,
        b + thick,
        a + thick,
        a + thick
    );
    canvas.path(class, &path);
}

/// Name and figures of a stream: in one line, or below each other in a narrow picture.
fn draw_words(canvas: &mut Canvas, stream: &Stream, (x, y): (f64, f64), room: f64, size: Size) {
    let share = typeset(&percent(stream.share));
    let said = typeset(&stream.said);
    match size {
        Size::Wide => {
            canvas.text("direct", Anchor::End, x + 54.0, y + 4.0, &share);
            canvas.text("small", Anchor::End, x + 130.0, y + 4.0, &said);
            let name = cut(&stream.name, "direct", room - 142.0);
            canvas.text("direct", Anchor::Start, x + 142.0, y + 4.0, &name);
        }
        Size::Narrow => {
            let name = cut(&stream.name, "direct", room);
            canvas.text("direct", Anchor::Start, x, y - 3.0, &name);
            let figures = match said.as_str() {
                "" => share,
                said => format!("{share}, {said}"),
            };
            canvas.text("small", Anchor::Start, x, y + 12.0, &figures);
        }
    }
}
