//! One random board: sources that meet, a converter, what hangs on the rails, and oddities.

use std::fmt::Write as _;

use super::dice::Dice;

/// A board under way.
pub(super) struct Maker<'d> {
    pub(super) dice: &'d mut Dice,
    pub(super) nets: Vec<String>,
    pub(super) rail: String,
    pub(super) ground: String,
    /// Which words name its nets.
    style: usize,
    size: usize,
    made: usize,
    text: String,
    tail: String,
}

impl<'d> Maker<'d> {
    pub(super) fn new(dice: &'d mut Dice, connector: &[String], size: usize) -> Self {
        let style = dice.below(8);
        Self {
            dice,
            nets: connector.to_owned(),
            rail: connector[0].clone(),
            ground: connector[1].clone(),
            style,
            size,
            made: 0,
            text: String::new(),
            tail: String::new(),
        }
    }

    /// The text of the board's file.
    pub(super) fn board(mut self) -> String {
        // Something is always on the connector.
        let rail = self.rail.clone();
        let bus = if self.dice.chance(50) {
            self.fresh()
        } else {
            rail.clone()
        };
        let sources = [1, 1, 1, 2, 2, 3, 0][self.dice.below(7)];
        for _ in 0..sources {
            self.source(&bus);
        }
        if bus != rail {
            self.feed(&bus, &rail);
        }
        if self.made == 0 {
            self.two("C", "capacitor", "value = \"10 uF\"", &rail, None);
        }
        while self.made < self.size {
            self.more();
        }
        let title = self.dice.pick(&[
            "A board",
            "<b>bold</b> & \\\"quoted\\\"",
            "לוח עם שתי סוללות",
            "電池基板",
        ]);
        format!("title = \"{title}\"\n{}{}", self.text, self.tail)
    }

    /// A net that is not there yet.
    pub(super) fn fresh(&mut self) -> String {
        let n = self.nets.len();
        let name = match self.style {
            0 => format!("BAT{n}"),
            1 => format!("net behind the protection of source number {n} and more"),
            2 => format!("רשת {n}"),
            3 => format!("Größe-{n}+"),
            4 => format!("電池{n}"),
            5 => format!("N{n}"),
            6 => format!("{n}"),
            _ => format!("V_INT {n}"),
        };
        self.nets.push(name.clone());
        name
    }

    /// A net that is there, the rails likelier than others.
    pub(super) fn some(&mut self) -> String {
        match self.dice.below(10) {
            0..3 => self.ground.clone(),
            3..5 => self.rail.clone(),
            _ => {
                let at = self.dice.below(self.nets.len());
                self.nets[at].clone()
            }
        }
    }

    /// A net that is there, or a new one.
    pub(super) fn any(&mut self) -> String {
        if self.dice.chance(25) {
            self.fresh()
        } else {
            self.some()
        }
    }

    fn designator(&mut self, letter: &str) -> String {
        self.made += 1;
        let n = self.made;
        match self.style {
            1 if self.dice.chance(30) => format!("{letter}{n} of the second channel left"),
            7 if self.dice.chance(20) => format!("{letter}-{n}+a"),
            _ => format!("{letter}{n}"),
        }
    }

    /// A part with named pins; a pin without a net is declared open.
    pub(super) fn part(
        &mut self,
        letter: &str,
        kind: &str,
        keys: &str,
        pins: &[(&str, Option<&str>)],
    ) {
        let name = self.designator(letter);
        let on: Vec<String> = pins
            .iter()
            .filter_map(|(pin, net)| net.map(|net| format!("{pin:?} = {net:?}")))
            .collect();
        let open: Vec<String> = pins
            .iter()
            .filter(|p| p.1.is_none())
            .map(|p| format!("{:?}", p.0))
            .collect();
        let _ = write!(
            self.text,
            "[parts.{name:?}]\nkind = \"{kind}\"\n{keys}\npins = {{ {} }}\n",
            on.join(", ")
        );
        if !open.is_empty() {
            let _ = writeln!(self.text, "open = [{}]", open.join(", "));
        }
    }

    /// A part with its two nets as a list; without a second net to ground.
    pub(super) fn two(
        &mut self,
        letter: &str,
        kind: &str,
        keys: &str,
        from: &str,
        to: Option<&str>,
    ) {
        let name = self.designator(letter);
        let to = to.unwrap_or(&self.ground);
        let _ = write!(
            self.text,
            "[parts.{name:?}]\nkind = \"{kind}\"\n{keys}\npins = [{from:?}, {to:?}]\n"
        );
    }

    /// A test point.
    pub(super) fn probe(&mut self, pins: &str) {
        let name = self.designator("TP");
        let _ = write!(
            self.text,
            "[parts.{name:?}]\nkind = \"test-point\"\n{pins}\n"
        );
    }

    /// A load of the board alone, attached by a part.
    pub(super) fn own_load(&mut self, plus: &str, minus: &str) {
        let n = self.made;
        let keys = format!("load = \"lamp{n}\"");
        self.two("X", "load", &keys, plus, Some(minus));
        let _ = write!(self.tail, "[loads.lamp{n}]\nstates = {{ on = \"1 mA\" }}\n");
    }

    /// A source with up to three parts between it and a net.
    fn source(&mut self, bus: &str) {
        let steps = self.dice.below(4);
        let mut at = if steps == 0 {
            bus.to_owned()
        } else {
            self.fresh()
        };
        let ground = self.ground.clone();
        let minus = if self.dice.chance(15) {
            self.fresh()
        } else {
            ground
        };
        if self.dice.chance(75) {
            let series = 1 + self.dice.below(3);
            let cell = self.dice.pick(&["CR2032", "LR03", "LR6"]);
            let keys = format!(
                "model = \"{cell}\"\nseries = {series}\nholder = {{ contact = \"50 mohm\", reversed = \"possible\" }}"
            );
            self.part(
                "BT",
                "cell",
                &keys,
                &[("plus", Some(&at)), ("minus", Some(&minus))],
            );
        } else {
            let keys = "voltage = \"5.0 V\"\nresistance = \"300 mohm\"";
            self.part(
                "J",
                "supply",
                keys,
                &[("plus", Some(&at)), ("minus", Some(&minus))],
            );
        }
        if minus != self.ground {
            self.low_side(&minus, &at);
        }
        for step in 0..steps {
            let to = if step + 1 == steps {
                bus.to_owned()
            } else {
                self.fresh()
            };
            self.series(&at, &to);
            at = to;
        }
    }

    fn more(&mut self) {
        match self.dice.below(20) {
            0..5 => self.shunt(),
            5..8 => self.chain(),
            8..10 => {
                let (from, to) = (self.any(), self.any());
                self.series(&from, &to);
            }
            10 => {
                let (from, to) = (self.some(), self.any());
                self.feed(&from, &to);
            }
            11 => self.switch(),
            12 => {
                let bus = self.some();
                self.source(&bus);
            }
            13 => self.across_one_net(),
            14 => self.dangling(),
            _ => self.odd(),
        }
    }
}
