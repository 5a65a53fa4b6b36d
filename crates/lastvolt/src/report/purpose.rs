//! What a part is and what it does on its board, in plain words, from its kind and its connections.
//! Nothing is told apart by a name.

use lastvolt_core::device::{
    Blocking, Capacitor, Cell, Channel, Detector, Dielectric, LoadSwitch, Loss, OutputStage,
    Regulator, Setpoint, Switch, Topology, Zener,
};
use lastvolt_core::model::{Board, Device, Kind, Part};
use lastvolt_core::quantity::{Quantity, Spread, Unit};
use lastvolt_core::review::anatomy::{control_pins, dividers, pulls};

use crate::draw::schematic::symbol::tolerance;
use crate::text::number::{count, figure, listed, nominal, percent};

/// The value of a part as its maker prints it, with what it is rated for.
pub(super) fn value(part: &Part) -> String {
    let (value, rating) = stated(part);
    match rating {
        Some(rating) if !value.is_empty() => format!("{value}, {rating}"),
        _ => value,
    }
}

/// The value of a part, and what it is rated for.
pub(super) fn stated(part: &Part) -> (String, Option<String>) {
    let with = |value: Option<f64>, unit| value.map(|v| nominal(v, unit));
    match &part.device {
        Device::Cell(cell) => (cells(part, cell), None),
        Device::Supply(s) => {
            let volts = nominal(s.open_circuit.si(), Unit::Volt);
            (volts, with(s.limit.map(|l| l.si()), Unit::Ampere))
        }
        Device::Resistor(r) => {
            let value = spread(&r.value, Unit::Ohm);
            (value, with(r.rated.map(Quantity::si), Unit::Watt))
        }
        Device::Capacitor(c) => {
            let mut value = spread(&c.value, Unit::Farad);
            if let Some(kind) = c.dielectric {
                value = format!("{value}, {}", dielectric(kind));
            }
            (value, with(c.rated.map(Quantity::si), Unit::Volt))
        }
        Device::Inductor(l) => {
            let most = l.saturation.or(l.rated).map(Quantity::si);
            (spread(&l.value, Unit::Henry), with(most, Unit::Ampere))
        }
        Device::Fuse(f) => {
            let ohms = nominal(f.resistance.si(), Unit::Ohm);
            (ohms, with(f.rated.map(Quantity::si), Unit::Ampere))
        }
        Device::Ptc(p) => {
            let ohms = nominal(p.resistance.si(), Unit::Ohm);
            (ohms, with(p.hold.map(Quantity::si), Unit::Ampere))
        }
        Device::Switch(s) => {
            let positions = count(s.positions.len(), "position");
            let label = s.label.as_ref();
            let value = label.map_or(positions.clone(), |l| format!("{positions}, marked {l}"));
            (value, with(s.rated.map(Quantity::si), Unit::Ampere))
        }
        Device::Zener(z) => {
            let watts = with(z.rated_power.map(Quantity::si), Unit::Watt);
            (spread(&z.breakdown, Unit::Volt), watts)
        }
        Device::Diode(d) => {
            let volts = with(d.rated_reverse.map(Quantity::si), Unit::Volt);
            let amps = with(d.rated_current.map(Quantity::si), Unit::Ampere);
            (of_model(part), joined([volts, amps]))
        }
        Device::Fet(t) => {
            let volts = with(t.rated_drain_source.map(Quantity::si), Unit::Volt);
            (of_model(part), volts)
        }
        Device::Regulator(u) => (named(part, set_words(u)), None),
        Device::Detector(d) => {
            let volts = nominal(d.threshold.si(), Unit::Volt);
            (named(part, volts), None)
        }
        Device::Led(_) | Device::LoadSwitch(_) | Device::IdealDiode(_) => (of_model(part), None),
        Device::Load(name) => (name.clone(), None),
        Device::TestPoint => (String::new(), None),
    }
}

fn of_model(part: &Part) -> String {
    part.origin.model.clone().unwrap_or_default()
}

/// The model, and the voltage for which a part of it is bought.
fn named(part: &Part, volts: String) -> String {
    let model = part.origin.model.as_ref();
    model.map_or(volts.clone(), |model| format!("{model}, {volts}"))
}

/// The output that a regulator is made for, or what its divider compares with.
fn set_words(regulator: &Regulator) -> String {
    match &regulator.setpoint {
        Setpoint::Output(v) => nominal(v.si(), Unit::Volt),
        Setpoint::Reference(v) => {
            format!("adjustable, reference {}", nominal(v.si(), Unit::Volt))
        }
    }
}

fn joined(ratings: [Option<String>; 2]) -> Option<String> {
    let stated: Vec<String> = ratings.into_iter().flatten().collect();
    (!stated.is_empty()).then(|| stated.join(", "))
}

/// A value with its tolerance.
fn spread<Q: Quantity>(value: &Spread<Q>, unit: Unit) -> String {
    let value_words = nominal(value.si(), unit);
    match tolerance(value) {
        even if even.is_empty() => value_words,
        even => format!("{value_words} {even}"),
    }
}

fn cells(part: &Part, cell: &Cell) -> String {
    let model = part.origin.model.as_deref().unwrap_or("cell");
    let charge = nominal(cell.model.charge.si() / 3.6, Unit::Coulomb).replace(" C", " mAh");
    let charge = charge.replace(" kC", " Ah");
    match cell.series {
        1 => format!("{model}, {}, {charge}", cell.model.chemistry),
        n => format!(
            "{n} x {model} in series, {}, {charge}",
            cell.model.chemistry
        ),
    }
}

fn dielectric(dielectric: Dielectric) -> &'static str {
    match dielectric {
        Dielectric::Class1 => "class 1 ceramic",
        Dielectric::Class2X | Dielectric::Class2Y => "class 2 ceramic",
        Dielectric::Tantalum => "tantalum",
        Dielectric::Aluminium => "aluminium electrolytic",
        Dielectric::Polymer => "polymer",
        Dielectric::Film => "film",
        Dielectric::DoubleLayer => "double layer",
    }
}

/// What a part does, in a sentence or two.
pub(super) fn purpose(board: &Board, part: &Part, ground: &str) -> String {
    let of = On {
        board,
        part,
        ground,
    };
    match &part.device {
        Device::Cell(cell) => {
            let holder = match cell.holder.reversed {
                lastvolt_core::device::Reversal::Possible => "its holder takes a cell backwards",
                lastvolt_core::device::Reversal::Blocked => "its holder keeps a reversed cell out",
                lastvolt_core::device::Reversal::NoContact => {
                    "a reversed cell touches nothing in its holder"
                }
                lastvolt_core::device::Reversal::Short => "its holder shorts a reversed cell",
            };
            format!(
                "Feeds {} from {}; {holder}.",
                of.net("plus"),
                count(cell.series, "cell")
            )
        }
        Device::Supply(s) => format!(
            "Feeds {} from outside: {} behind {}.",
            of.net("plus"),
            figure(s.open_circuit.si(), Unit::Volt),
            figure(s.resistance.si(), Unit::Ohm)
        ),
        Device::Resistor(_) => of.resistor(),
        Device::Capacitor(c) => of.capacitor(c),
        Device::Inductor(_) => match of.regulator_beside() {
            Some(u) => format!("The inductor that {u} works with."),
            None => format!("Between {} and {}.", of.end(0), of.end(1)),
        },
        Device::Diode(_) => of.diode(),
        Device::Zener(z) => of.zener(z),
        Device::Led(_) => format!(
            "Indicator, lit by current from {} to {}.",
            of.net("anode"),
            of.net("cathode")
        ),
        Device::Fet(fet) => of.fet(fet.channel),
        Device::Switch(s) => of.switch(s),
        Device::Fuse(_) => format!(
            "Opens when too much flows from {} to {}.",
            of.end(0),
            of.end(1)
        ),
        Device::Ptc(p) => of.ptc(p),
        Device::Regulator(u) => of.regulator(u),
        Device::Detector(d) => of.detector(d),
        Device::LoadSwitch(s) => of.load_switch(s),
        Device::IdealDiode(_) => format!(
            "Lets current pass from {} to {} and not back, with the small drop of a transistor.",
            of.net("in"),
            of.net("out")
        ),
        Device::Load(name) => format!("Puts the load {name} onto {} and {}.", of.end(0), of.end(1)),
        Device::TestPoint => format!("A place to measure {}.", of.end(0)),
    }
}

/// Value from which a capacitor is a store of charge more than a path for edges (common practice).
const RESERVOIR_FARADS: f64 = 100e-6;

/// A part on its board.
struct On<'a> {
    board: &'a Board,
    part: &'a Part,
    ground: &'a str,
}

impl On<'_> {
    /// The net of a pin.
    fn net(&self, pin: &str) -> &str {
        let pin = self.part.pin(pin).map(|(_, pin)| pin);
        pin.and_then(|p| self.board.net_of(p)).unwrap_or("nothing")
    }

    /// The net of the pin at a place.
    fn end(&self, at: usize) -> &str {
        let pin = self.part.pins.get(at);
        pin.and_then(|p| self.board.net_of(p)).unwrap_or("nothing")
    }

    fn resistor(&self) -> String {
        let name = &self.part.name;
        if let Some(d) = dividers(self.board)
            .into_iter()
            .find(|d| d.upper.name == *name || d.lower.name == *name)
        {
            let (side, other) = if d.upper.name == *name {
                ("Upper", d.lower)
            } else {
                ("Lower", d.upper)
            };
            let set = set_volts(d.device, d.upper, d.lower);
            let set = set.map_or_else(String::new, |v| format!(" to {}", figure(v, Unit::Volt)));
            return format!(
                "{side} resistor of the divider that sets the output of {}{set}, with {}.",
                d.regulator.name, other.name
            );
        }
        if let Some(pull) = pulls(self.board)
            .into_iter()
            .find(|p| p.resistor.name == *name)
        {
            let held: Vec<String> = control_pins(self.board)
                .iter()
                .filter(|c| c.pin.net == Some(pull.net))
                .map(|c| format!("{}.{}", c.part.name, c.pin.name))
                .collect();
            let towards = &self.board.nets[pull.towards];
            let controls = control_pins(self.board);
            return if controls.iter().any(|c| c.pin.net == Some(pull.towards)) {
                format!("Joins {} to {towards}.", listed(&held))
            } else {
                format!("Pulls {} to {towards}.", listed(&held))
            };
        }
        let beside = self.beside(|p| p.kind == Kind::Led);
        match beside {
            Some(led) => format!("Sets the current of {led}."),
            None => format!("Between {} and {}.", self.end(0), self.end(1)),
        }
    }

    fn capacitor(&self, c: &Capacitor) -> String {
        match (self.end(0), self.end(1)) {
            (net, ground) | (ground, net) if ground == self.ground => {
                let large = RESERVOIR_FARADS <= c.value.si();
                let word = if large { "Reservoir" } else { "Bypass" };
                format!("{word} of {net}.")
            }
            (a, b) => format!("Between {a} and {b}."),
        }
    }

    fn diode(&self) -> String {
        let (anode, cathode) = (self.net("anode"), self.net("cathode"));
        if anode == self.ground {
            format!(
                "Idle while {cathode} is positive; conducts when a reversed source drives {cathode} below {anode}."
            )
        } else {
            format!("Lets current pass from {anode} to {cathode} and not back.")
        }
    }

    fn zener(&self, z: &Zener) -> String {
        let (anode, cathode) = (self.net("anode"), self.net("cathode"));
        let volts = figure(z.breakdown.si(), Unit::Volt);
        format!(
            "Conducts when {cathode} rises about {volts} above {anode}, and when it falls below {anode}."
        )
    }

    fn ptc(&self, ptc: &lastvolt_core::device::Ptc) -> String {
        let trip = ptc.trip.map_or_else(
            || "when too much flows".to_owned(),
            |trip| format!("when more than {} flows", figure(trip.si(), Unit::Ampere)),
        );
        format!(
            "Warms up {trip} from {} to {} and then lets little pass, until it is without voltage and cool.",
            self.end(0),
            self.end(1)
        )
    }

    fn detector(&self, d: &Detector) -> String {
        let (input, out) = (self.net("in"), self.net("out"));
        let (low, high) = (d.threshold.si(), d.release_volts());
        let held = match d.output {
            OutputStage::OpenDrain => "lets it go",
            OutputStage::PushPull => "drives it high",
        };
        let net = self.part.net("out");
        let held_pins: Vec<String> = control_pins(self.board)
            .iter()
            .filter(|c| c.pin.net.is_some() && c.pin.net == net)
            .map(|c| format!("{}.{}", c.part.name, c.pin.name))
            .collect();
        let drives = if held_pins.is_empty() {
            String::new()
        } else {
            format!(" It drives {}.", listed(&held_pins))
        };
        format!(
            "Pulls {out} low while {input} is below {}, and {held} from {}.{drives}",
            figure(low, Unit::Volt),
            figure(high, Unit::Volt)
        )
    }

    fn load_switch(&self, s: &LoadSwitch) -> String {
        let (input, out) = (self.net("in"), self.net("out"));
        let when = match &s.enable {
            Some(_) => format!(" while {} is high", self.net("enable")),
            None => String::new(),
        };
        let back = match s.reverse_blocking {
            Blocking::Never => format!("; its body diode leads back from {out}"),
            Blocking::WhenOff => "; off, it blocks both ways".to_owned(),
            Blocking::Always => format!("; nothing flows back from {out}"),
        };
        format!("Joins {input} to {out}{when}{back}.")
    }

    fn fet(&self, channel: Channel) -> String {
        let (drain, source, gate) = (self.net("drain"), self.net("source"), self.net("gate"));
        if channel == Channel::P && gate == self.ground {
            format!(
                "In series from {drain} to {source}: on while they stand well above its gate on {gate}."
            )
        } else if channel == Channel::P {
            format!("Joins {source} to {drain} while {gate} lies well below {source}.")
        } else {
            format!("Joins {drain} to {source} while {gate} lies well above {source}.")
        }
    }

    fn switch(&self, s: &Switch) -> String {
        let position = |p: &lastvolt_core::device::Position| {
            // A throw that leads nowhere joins nothing.
            let net = |at: usize| self.board.net_of(self.part.pins.get(at)?);
            let joined = p.closed.iter();
            let joined: Vec<String> = joined
                .filter_map(|&(a, b)| Some(format!("{} with {}", net(a)?, net(b)?)))
                .collect();
            let joined = if joined.is_empty() {
                "nothing".to_owned()
            } else {
                listed(&joined)
            };
            format!("{} joins {joined}", p.name)
        };
        let positions: Vec<String> = s.positions.iter().map(position).collect();
        let returns = s.returns.and_then(|at| s.positions.get(at));
        let returns = returns.map_or_else(String::new, |p| {
            format!(" It springs back to {} when it is let go.", p.name)
        });
        format!("{}.{returns}", capital(&positions.join("; ")))
    }

    fn regulator(&self, u: &Regulator) -> String {
        let kind = match u.topology {
            Topology::Linear => "Linear regulator",
            Topology::Buck => "Step-down converter",
            Topology::Boost => "Step-up converter",
            Topology::BuckBoost => "Step-up/down converter",
        };
        let set = match u.setpoint {
            Setpoint::Output(v) => Some(v.si()),
            Setpoint::Reference(_) => dividers(self.board)
                .into_iter()
                .find(|d| d.regulator.name == self.part.name)
                .and_then(|d| set_volts(d.device, d.upper, d.lower)),
        };
        let set = set.map_or_else(String::new, |v| {
            format!(", set to {}", figure(v, Unit::Volt))
        });
        let loss = match &u.loss {
            Loss::Share { share, path } if u.topology != Topology::Linear => format!(
                " It loses {} of what it delivers and what {} take.",
                percent(share.si()),
                figure(path.si(), Unit::Ohm)
            ),
            _ => String::new(),
        };
        format!(
            "{kind} from {} to {}{set}.{loss}",
            self.net("in"),
            self.net("out")
        )
    }

    /// Name of a part that shares a net other than ground and passes the test.
    fn beside(&self, test: impl Fn(&Part) -> bool) -> Option<&str> {
        let mine = self.part.pins.iter().filter_map(|p| self.board.net_of(p));
        let mine: Vec<&str> = mine.filter(|n| *n != self.ground).collect();
        let shares = |p: &&Part| {
            p.pins
                .iter()
                .filter_map(|pin| self.board.net_of(pin))
                .any(|n| mine.contains(&n))
        };
        let others = self.board.parts.iter().filter(|p| p.name != self.part.name);
        others
            .filter(|p| test(p))
            .find(shares)
            .map(|p| p.name.as_str())
    }

    fn regulator_beside(&self) -> Option<&str> {
        self.beside(|p| {
            let nets: Vec<_> = self.part.pins.iter().filter_map(|pin| pin.net).collect();
            let on = |pin: &str| p.net(pin).is_some_and(|n| nets.contains(&n));
            matches!(p.device, Device::Regulator(_)) && (on("sw") || on("sw1") || on("sw2"))
        })
    }
}

/// The output that a divider sets, without the bias current.
fn set_volts(u: &Regulator, upper: &Part, lower: &Part) -> Option<f64> {
    let (Setpoint::Reference(v), Device::Resistor(up), Device::Resistor(low)) =
        (&u.setpoint, &upper.device, &lower.device)
    else {
        return None;
    };
    (0.0 < low.value.si()).then(|| v.si() * (1.0 + up.value.si() / low.value.si()))
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
