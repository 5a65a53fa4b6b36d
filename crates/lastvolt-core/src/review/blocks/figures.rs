//! The figures that show how a block does: fresh, in the heaviest states and at the end of life.

use std::rc::Rc;

use crate::circuit::{Point, Situation};
use crate::device::LoadSwitch;
use crate::model::{Device, Kind, Part};
use crate::quantity::Unit;
use crate::review::Evidence;
use crate::review::blocks::path::pair;
use crate::review::blocks::{Block, BlockFigure, BlockKind};

/// At rest with fresh cells.
pub(super) const REST: &str = "at rest, fresh cells";
/// Every load in its hungriest state, fresh cells.
pub(super) const BURST: &str = "hungriest states, fresh cells";
/// Every load in its hungriest state at the end of life.
const TIRED: &str = "hungriest states, end of life";

/// A solved situation that figures are read from.
pub(super) struct Moment {
    pub(super) point: Rc<Point>,
}

/// The board at the moments that figures are about.
pub(super) struct Moments<'e, 'a> {
    pub(super) e: &'e Evidence<'a>,
    pub(super) rest: Option<Moment>,
    pub(super) burst: Option<Moment>,
    pub(super) tired: Option<Moment>,
}

impl<'e, 'a> Moments<'e, 'a> {
    pub(super) fn new(e: &'e Evidence<'a>) -> Self {
        let solve = |situation: Situation| {
            let point = e.point(&situation)?;
            Some(Moment { point })
        };
        let burst = Situation {
            states: e.worst_states(),
            ..e.usual()
        };
        Self {
            e,
            rest: solve(e.usual()),
            burst: solve(burst),
            tired: e.tired().and_then(solve),
        }
    }

    /// Each moment that could be solved, with its words.
    pub(super) fn each(&self) -> impl Iterator<Item = (&Moment, &'static str)> {
        let all = [
            (&self.rest, REST),
            (&self.burst, BURST),
            (&self.tired, TIRED),
        ];
        all.into_iter()
            .filter_map(|(m, words)| Some((m.as_ref()?, words)))
    }

    /// Moments under load.
    pub(super) fn under_load(&self) -> impl Iterator<Item = (&Moment, &'static str)> {
        self.each().skip(usize::from(self.rest.is_some()))
    }

    pub(super) fn part(&self, name: &str) -> Option<&'a Part> {
        self.e.board.part(name)
    }

    /// The parts of a block.
    pub(super) fn parts<'s>(&'s self, block: &'s Block) -> impl Iterator<Item = &'a Part> + 's {
        block.parts.iter().filter_map(|n| self.part(n))
    }

    /// The first part of a block of a kind.
    pub(super) fn first(&self, block: &Block, kinds: &[Kind]) -> Option<&'a Part> {
        self.parts(block).find(|p| kinds.contains(&p.kind))
    }

    /// The figures of a block.
    pub(super) fn figures(&self, block: &Block) -> Vec<BlockFigure> {
        let mut out = match block.kind {
            BlockKind::Source => self.source(block),
            BlockKind::ReverseProtection => self.protection(block),
            BlockKind::Isolation | BlockKind::Limiter | BlockKind::Filter => self.drops(block),
            BlockKind::PowerSwitch => self.switch(block),
            BlockKind::Converter => self.converter(block),
            BlockKind::Indicator => self.indicator(block),
            BlockKind::Lockout => self.lockout(block),
            BlockKind::Measurement if self.first(block, &[Kind::Detector]).is_some() => {
                self.lockout(block)
            }
            BlockKind::EnableControl | BlockKind::Measurement => self.levels(block),
            BlockKind::Bypass | BlockKind::Bulk => self.capacitors(block),
            BlockKind::OwnLoad => self.currents(block),
            BlockKind::Interface => self.rails(block),
            BlockKind::Clamp => self.clamp(block),
        };
        if block.kind != BlockKind::Interface
            && let Some(share) = self.life_share(block)
        {
            out.push(BlockFigure {
                label: "share of the energy spent over the life".to_owned(),
                value: share,
                unit: Unit::Fraction,
                situation: "whole life".to_owned(),
            });
        }
        if !self.e.board.parts.iter().any(|p| p.kind == Kind::Cell) {
            for figure in &mut out {
                if let Some(rest) = figure.situation.strip_suffix(", fresh cells") {
                    figure.situation = rest.to_owned();
                }
            }
        }
        out.retain(|f| f.value.is_finite());
        out
    }

    /// Share of the ledger that the parts of a block take; none where there is no life.
    pub(super) fn life_share(&self, block: &Block) -> Option<f64> {
        let life = self.e.lasting_life()?;
        let total: f64 = life.ledger.iter().map(|l| l.1).sum();
        let own = life.ledger.iter().filter(|l| block.parts.contains(&l.0));
        let own: f64 = own.map(|l| l.1).sum();
        (0.0 < total && 0.0 < own).then(|| own / total)
    }

    fn source(&self, block: &Block) -> Vec<BlockFigure> {
        let Some(name) = block.parts.first() else {
            return Vec::new();
        };
        let mut out = Vec::new();
        for (moment, when) in self.each() {
            if let Some(p) = moment.point.part(name) {
                out.push(figure("current that it gives", p.amps, Unit::Ampere, when));
            }
        }
        for (moment, when) in self.each() {
            if let Some(p) = moment.point.part(name) {
                out.push(figure("voltage", p.volts, Unit::Volt, when));
            }
        }
        let is_cell = self.first(block, &[Kind::Cell]).is_some();
        if is_cell
            && let Some(life) = self.e.lasting_life()
            && let Some(secs) = life.life_secs
        {
            out.push(figure("lasts", secs, Unit::Second, "usual ambient"));
        }
        out
    }

    /// Voltage between the first two nets of a block.
    pub(super) fn drop_volts(&self, block: &Block, moment: &Moment) -> Option<f64> {
        let volts = |n: &String| moment.point.net(n);
        let [a, b, ..] = block.nets.as_slice() else {
            return None;
        };
        Some((volts(a)? - volts(b)?).abs())
    }

    fn drops(&self, block: &Block) -> Vec<BlockFigure> {
        let mut out = Vec::new();
        if block.nets.len() == 2 {
            for (moment, when) in self.under_load() {
                let volts = self.drop_volts(block, moment);
                out.extend(volts.map(|v| figure("drop", v, Unit::Volt, when)));
            }
        }
        for (name, amps) in block.parts.iter().filter_map(|n| {
            let p = self.burst.as_ref()?.point.part(n)?;
            Some((n, p.amps.abs()))
        }) {
            out.push(figure(
                &format!("current of {name}"),
                amps,
                Unit::Ampere,
                BURST,
            ));
        }
        out
    }

    fn protection(&self, block: &Block) -> Vec<BlockFigure> {
        let mut out = self.series_drops(block);
        // What it lets through with a cell the wrong way round, usual positions.
        let usual = self.e.usual();
        let cases = self.e.matrix().cases.iter();
        let mut turned = cases.filter(|c| {
            !c.situation.reversed.is_empty() && c.situation.positions == usual.positions
        });
        if let Some(case) = turned.next()
            && let Ok(point) = &case.point
        {
            let most = case.cells.iter().map(|c| c.1.abs()).fold(0.0, f64::max);
            let when = "cell backwards";
            out.push(figure("current of the cell", most, Unit::Ampere, when));
            if let Some(rail) = self.e.family.connector.rail()
                && let Some(volts) = point.net(rail)
            {
                out.push(figure(
                    &format!("voltage of {rail}"),
                    volts,
                    Unit::Volt,
                    when,
                ));
            }
        }
        out
    }

    /// Drops of the parts of a block that lie in series.
    fn series_drops(&self, block: &Block) -> Vec<BlockFigure> {
        let kinds = [
            Kind::Fuse,
            Kind::Ptc,
            Kind::PFet,
            Kind::NFet,
            Kind::Diode,
            Kind::IdealDiode,
        ];
        let shunt = block.parts.len() <= 2 && block.nets.len() == 1;
        let mut out = Vec::new();
        for part in self.parts(block).filter(|p| kinds.contains(&p.kind)) {
            if shunt && part.kind == Kind::Diode {
                if let Some(p) = self.rest.as_ref().and_then(|m| m.point.part(&part.name)) {
                    let label = format!("leakage of {}", part.name);
                    out.push(figure(&label, p.amps.abs(), Unit::Ampere, REST));
                }
                continue;
            }
            for (moment, when) in self.under_load() {
                if let Some(volts) = self.across(part, moment) {
                    let label = format!("drop of {}", part.name);
                    out.push(figure(&label, volts.abs(), Unit::Volt, when));
                }
            }
        }
        out
    }

    /// Voltage from one end of a part's path to the other.
    fn across(&self, part: &Part, moment: &Moment) -> Option<f64> {
        let volts = |net: usize| moment.point.net(&self.e.net_name(net));
        match pair(part).as_slice() {
            [a, b] => Some(volts(*a)? - volts(*b)?),
            _ => None,
        }
    }

    /// From what voltage a clamp works, and what it takes while it has nothing to do.
    fn clamp(&self, block: &Block) -> Vec<BlockFigure> {
        let mut out = Vec::new();
        for part in self.parts(block) {
            let Device::Zener(zener) = &part.device else {
                continue;
            };
            let when = format!(
                "typical values, at {}",
                crate::review::words::amps(zener.test_current.as_amps())
            );
            let breakdown = zener.breakdown.si();
            out.push(figure("breakdown", breakdown, Unit::Volt, &when));
            for (moment, when) in self.each().take(2) {
                if let Some(volts) = self.across(part, moment) {
                    out.push(figure("voltage across it", volts.abs(), Unit::Volt, when));
                }
            }
            let rest = self.rest.as_ref().and_then(|m| m.point.part(&part.name));
            out.extend(rest.map(|p| figure("current", p.amps.abs(), Unit::Ampere, REST)));
        }
        out
    }

    /// What a load switch takes for itself and lets through while it is off.
    fn load_switch(&self, block: &Block, part: &Part, s: &LoadSwitch) -> Vec<BlockFigure> {
        let mut out = self.drops(block);
        let typical = "typical values";
        for (what, when, value) in [
            ("own current", "on", s.quiescent.si()),
            ("own current", "off", s.shutdown.si()),
            ("leakage", "off", s.leakage.si()),
        ] {
            if s.enable.is_some() || when == "on" {
                let label = format!("{what} of {} while {when}", part.name);
                out.push(figure(&label, value, Unit::Ampere, typical));
            }
        }
        out
    }

    fn switch(&self, block: &Block) -> Vec<BlockFigure> {
        let mut out = Vec::new();
        for part in self.parts(block) {
            match &part.device {
                Device::Switch(s) => {
                    if let Some(amps) = self.most_pin_amps(&part.name) {
                        let label = format!("current through {}", part.name);
                        out.push(figure(&label, amps, Unit::Ampere, BURST));
                        let volts = amps * s.contact.si();
                        let label = format!("drop of a contact of {}", part.name);
                        out.push(figure(&label, volts, Unit::Volt, BURST));
                    }
                }
                Device::Fet(_) => out.extend(self.drops(block)),
                Device::LoadSwitch(s) => out.extend(self.load_switch(block, part, s)),
                _ => {}
            }
        }
        // The drain of the cells in the first position that switches the board off.
        if let Some((case, _)) = self.e.off().next()
            && !case.cells.is_empty()
        {
            let amps = case.cells.iter().map(|c| c.1).sum::<f64>();
            let moved = super::purpose::positions(self, &case.situation);
            let at = if moved.is_empty() {
                "usual positions"
            } else {
                &moved
            };
            let when = format!("{at}, fresh cells");
            out.push(figure("current of the cells", amps, Unit::Ampere, &when));
        }
        out
    }

    fn most_pin_amps(&self, name: &str) -> Option<f64> {
        let point = &self.burst.as_ref()?.point;
        let amps = point.part(name)?.pin_amps.iter();
        Some(amps.fold(0.0, |most: f64, a| most.max(a.abs())))
    }

    /// The situation in which a lamp shines brightest with fresh cells.
    pub(super) fn brightest(&self, led: &str) -> Option<(Situation, f64)> {
        let usual = self.e.usual();
        let positions = self.e.forward().map(|(case, _)| case.situation.clone());
        let states = self.e.joint_states().into_iter().map(|states| Situation {
            states,
            ..usual.clone()
        });
        let mut best: Option<(Situation, f64)> = None;
        for situation in positions.chain(states) {
            let Some(point) = self.e.point(&situation) else {
                continue;
            };
            let amps = point.part(led).map_or(0.0, |p| p.amps);
            if best.as_ref().is_none_or(|b| b.1 < amps) {
                best = Some((situation, amps));
            }
        }
        best
    }

    fn indicator(&self, block: &Block) -> Vec<BlockFigure> {
        let mut out = Vec::new();
        for led in self.parts(block).filter(|p| p.kind == Kind::Led) {
            let Some((situation, amps)) = self.brightest(&led.name) else {
                continue;
            };
            let label = format!("current of {} where it is lit", led.name);
            out.push(figure(&label, amps, Unit::Ampere, "fresh cells"));
            if let Some(depth) = self.e.life().map(|life| life.end.depth) {
                let late = Situation { depth, ..situation };
                let point = self.e.point(&late);
                let amps = point.and_then(|p| p.part(&led.name).map(|p| p.amps));
                out.extend(amps.map(|a| figure(&label, a, Unit::Ampere, "end of life")));
            }
            let rest = self.rest.as_ref().and_then(|m| m.point.part(&led.name));
            if let Some(p) = rest {
                let label = format!("current of {}", led.name);
                out.push(figure(&label, p.amps.abs(), Unit::Ampere, REST));
            }
        }
        out
    }

    fn levels(&self, block: &Block) -> Vec<BlockFigure> {
        let mut out = Vec::new();
        if let (Some(net), Some(m)) = (block.nets.first(), &self.rest)
            && let Some(volts) = m.point.net(net)
        {
            out.push(figure(&format!("level of {net}"), volts, Unit::Volt, REST));
        }
        for part in self.parts(block).filter(|p| p.kind == Kind::Resistor) {
            let point = self.rest.as_ref().and_then(|m| m.point.part(&part.name));
            if let Some(p) = point {
                let label = format!("current of {}", part.name);
                out.push(figure(&label, p.amps.abs(), Unit::Ampere, REST));
            }
        }
        out
    }

    fn capacitors(&self, block: &Block) -> Vec<BlockFigure> {
        let (Some(rest), Some(net)) = (&self.rest, block.nets.first()) else {
            return Vec::new();
        };
        let volts = rest.point.net(net).unwrap_or(0.0);
        let caps = self.parts(block).filter_map(|p| match &p.device {
            Device::Capacitor(c) => Some((p, c)),
            _ => None,
        });
        let caps: Vec<_> = caps.collect();
        let farads: f64 = caps.iter().map(|(_, c)| c.farads_at(volts.abs())).sum();
        let leaks = caps.iter().filter_map(|(p, _)| rest.point.part(&p.name));
        let leak: f64 = leaks.map(|p| p.amps.abs()).sum();
        let when = format!("{} across it", crate::review::words::volts(volts));
        vec![
            figure("capacitance", farads, Unit::Farad, &when),
            figure(
                "charge that a tenth of a volt takes",
                0.1 * farads,
                Unit::Coulomb,
                &when,
            ),
            figure("leakage", leak, Unit::Ampere, REST),
        ]
    }

    fn currents(&self, block: &Block) -> Vec<BlockFigure> {
        let mut out = Vec::new();
        for part in self.parts(block) {
            for (moment, when) in self.each().take(2) {
                let own = match &part.device {
                    Device::Load(load) => moment.point.load(load).map(|l| l.amps),
                    _ => moment.point.part(&part.name).map(|p| p.amps.abs()),
                };
                let label = format!("current of {}", part.name);
                out.extend(own.map(|a| figure(&label, a, Unit::Ampere, when)));
            }
        }
        out
    }

    fn rails(&self, block: &Block) -> Vec<BlockFigure> {
        let mut out = Vec::new();
        for net in &block.nets {
            for (moment, when) in self.each() {
                if let Some(volts) = moment.point.net(net) {
                    out.push(figure(
                        &format!("voltage of {net}"),
                        volts,
                        Unit::Volt,
                        when,
                    ));
                }
            }
        }
        for promise in &self.e.family.connector.promises {
            let Some((low, high)) = promise.band else {
                continue;
            };
            for (word, volts) in [("lowest", low), ("highest", high)] {
                let label = format!("{word} promised voltage of {}", promise.pin);
                out.push(figure(
                    &label,
                    volts.as_volts(),
                    Unit::Volt,
                    "the family's promise",
                ));
            }
        }
        out
    }
}

pub(super) fn figure(label: &str, value: f64, unit: Unit, situation: &str) -> BlockFigure {
    BlockFigure {
        label: label.to_owned(),
        value,
        unit,
        situation: situation.to_owned(),
    }
}
