//! Which parts of a board belong together, and what they are there for: functional blocks, recognised
//! from the netlist and from the solved points, whatever the parts are called.

mod claims;
mod control;
mod figures;
mod lockout;
mod nets;
mod path;
mod purpose;
mod regulated;
mod rest;

use crate::quantity::Unit;
use crate::review::Evidence;

/// What a block is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum BlockKind {
    /// The connector with its rails.
    Interface,
    /// A cell, a string of cells or an outside supply.
    Source,
    /// What keeps a reversed cell from doing harm.
    ReverseProtection,
    /// A fuse or a resistor in series, against too much current.
    Limiter,
    /// What limits the voltage of a net.
    Clamp,
    /// What keeps one source from feeding another.
    Isolation,
    /// What joins the source to the rail.
    PowerSwitch,
    /// An inductor in series that belongs to no regulator.
    Filter,
    /// A regulator with what it needs.
    Converter,
    /// A voltage detector that switches something off or on.
    Lockout,
    /// What gives an enable pin or a gate its level.
    EnableControl,
    /// A capacitor beside a net, for edges.
    Bypass,
    /// A capacitor that stores a burst or more.
    Bulk,
    /// A lamp with its resistor and its own switch.
    Indicator,
    /// A place or a divider to measure at.
    Measurement,
    /// What the board itself takes from a rail.
    OwnLoad,
}

impl BlockKind {
    /// Every kind, in the order of a walk from the outside in.
    pub const ALL: [Self; 16] = [
        Self::Interface,
        Self::Source,
        Self::ReverseProtection,
        Self::Limiter,
        Self::Clamp,
        Self::Isolation,
        Self::PowerSwitch,
        Self::Filter,
        Self::Bypass,
        Self::Bulk,
        Self::Indicator,
        Self::Converter,
        Self::Lockout,
        Self::EnableControl,
        Self::Measurement,
        Self::OwnLoad,
    ];

    /// The word that outputs use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Interface => "interface",
            Self::Source => "source",
            Self::ReverseProtection => "reverse-protection",
            Self::Limiter => "limiter",
            Self::Clamp => "clamp",
            Self::Isolation => "isolation",
            Self::PowerSwitch => "power-switch",
            Self::Filter => "filter",
            Self::Converter => "converter",
            Self::Lockout => "lockout",
            Self::EnableControl => "enable-control",
            Self::Bypass => "bypass",
            Self::Bulk => "bulk",
            Self::Indicator => "indicator",
            Self::Measurement => "measurement",
            Self::OwnLoad => "own-load",
        }
    }
}

/// One figure that shows how a block does.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockFigure {
    /// What it is: `drop in the heaviest step`.
    pub label: String,
    /// The value in its unit.
    pub value: f64,
    /// The unit.
    pub unit: Unit,
    /// When it holds: `fresh cells`.
    pub situation: String,
}

/// One functional block.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// What it is for.
    pub kind: BlockKind,
    /// A few words that tell it apart.
    pub title: String,
    /// What it does here, in one or two sentences.
    pub purpose: String,
    /// Names of its parts, the one that gives it its place first.
    pub parts: Vec<String>,
    /// Names of the nets that it stands at.
    pub nets: Vec<String>,
    /// What shows how it does.
    pub figures: Vec<BlockFigure>,
}

/// The blocks of a board and the parts that are in none.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Blocks {
    /// The blocks in the order of a walk.
    pub blocks: Vec<Block>,
    /// Names of the parts in no block, in file order.
    pub unplaced: Vec<String>,
}

impl Blocks {
    /// The block that a part is in.
    #[must_use]
    pub fn of(&self, part: &str) -> Option<&Block> {
        let holds = |b: &&Block| b.parts.iter().any(|p| p == part);
        self.blocks.iter().find(holds)
    }
}

/// The blocks of a board, still without sentences and figures.
#[must_use]
pub fn recognise(e: &Evidence) -> Blocks {
    let net = nets::Nets::new(e);
    let mut claims = claims::Claims::new(&net);
    claims.sources();
    claims.detectors();
    claims.converters();
    claims.indicators();
    claims.transistors();
    claims.clamps();
    claims.diodes();
    claims.load_switches();
    claims.switches();
    claims.series();
    claims.controls();
    claims.measurements();
    claims.capacitors();
    claims.loads();
    claims.interface();
    let mut found = claims.finish();
    found.blocks.sort_by_key(|b| {
        let kind = BlockKind::ALL.iter().position(|k| *k == b.kind);
        let first = b.parts.first();
        let part = first.and_then(|n| e.board.parts.iter().position(|p| p.name == *n));
        (kind, part)
    });
    found
}

/// The blocks of a board with what they are for and what shows it.
#[must_use]
pub fn blocks(e: &Evidence) -> Blocks {
    let mut found = recognise(e);
    let moments = figures::Moments::new(e);
    for block in &mut found.blocks {
        block.figures = moments.figures(block);
        block.purpose = purpose::purpose(&moments, block);
    }
    found
}
