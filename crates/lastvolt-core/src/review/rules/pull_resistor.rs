//! `pull-resistor`: does a pull resistor hold its pin against the worst leakage, and what does it
//! waste while the pin is driven the other way?
//!
//! In every forward position the board is solved at the high ambient, fresh and at the end of its life,
//! the resistor at the upper end of its tolerance, with the largest leakage of the pins on the net
//! (open-drain outputs too) pushed into it and drawn out of it. The level must stay on its side of the
//! threshold. The waste is judged by the life that a pull without current would win.
//!
//! # Formula
//! ```text
//! R <= V_IL / I_leak  (pull-down)      R <= (V - V_IH) / I_leak  (pull-up)
//! ```
//!
//! # References
//! TI SCBA004E; thresholds and leakages as the data sheet of the part states them.

use crate::circuit::{CellDrive, Circuit, Point, Situation};
use crate::device::{OutputStage, Supply};
use crate::model::{Change, Confidence, Device, Family, Heat, Kind, Origin, Part, Pin, PropertyId};
use crate::numerics::eseries::Series;
use crate::quantity::{Current, Resistance, Spread, Unit, Voltage};
use crate::review::anatomy::{ControlPin, Pull, Role, control_pins, enable_of, pulls};
use crate::review::evidence::leakage_factor;
use crate::review::rules::Rule;
use crate::review::rules::floating_control::{alive, positions};
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Name of the source of leakage in the circuit.
const LEAKAGE: &str = "(leakage)";
/// Open-circuit voltage of that source: so far above any rail that it gives its current whatever the pin does.
const DRIVING_VOLTS: f64 = 50.0;
/// Factor by which a pull is raised to see what it wastes.
const RAISED: f64 = 1000.0;

pub(super) struct PullResistor;

impl Rule for PullResistor {
    fn id(&self) -> RuleId {
        "pull-resistor"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let mut out = Vec::new();
        for pull in pulls(e.board) {
            let controls = control_pins(e.board);
            let mut controls = controls
                .iter()
                .filter(|c| c.pin.net == Some(pull.net) && c.role != Role::Feedback);
            out.extend(controls.find_map(|c| weak(e, self.id(), &pull, c)));
            out.extend(wasteful(e, self.id(), &pull));
        }
        out
    }
}

/// What a level may do before its part takes it for the other one.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Held {
    /// It must stay at or below this.
    Below(f64),
    /// It must stay at or above this.
    Above(f64),
}

/// The side of its thresholds on which a pin is, in volts of its net.
fn held(e: &Evidence, control: &ControlPin, point: &Point) -> Option<Held> {
    let volts = |pin: &str| {
        let net = control.part.net(pin).map(|n| e.net_name(n))?;
        point.net(&net)
    };
    let level = volts(&control.pin.name)?;
    match &control.part.device {
        Device::Regulator(_) | Device::LoadSwitch(_) => {
            let enable = enable_of(control.part)?;
            let ground = volts("gnd")?;
            let (low, high) = (
                ground + enable.low.as_volts(),
                ground + enable.high.as_volts(),
            );
            if level <= low {
                Some(Held::Below(low))
            } else {
                (high <= level).then_some(Held::Above(high))
            }
        }
        Device::Fet(fet) => {
            let source = volts("source")?;
            let sign = match fet.channel {
                crate::device::Channel::N => 1.0,
                crate::device::Channel::P => -1.0,
            };
            let off = fet.threshold.low();
            let on = fet
                .specified_from()
                .map_or(fet.threshold.high(), |v| v.as_volts());
            let drive = sign * (level - source);
            // A p-channel gate is on when it lies below its source.
            let side = |limit: f64, on: bool| {
                if on == (0.0 < sign) {
                    Held::Above(source + sign * limit)
                } else {
                    Held::Below(source + sign * limit)
                }
            };
            if drive <= off {
                Some(side(off, false))
            } else {
                (on <= drive).then(|| side(on, true))
            }
        }
        _ => None,
    }
}

/// The largest leakage of the pins on a net at the high ambient.
fn leakage_amps(e: &Evidence, net: usize) -> f64 {
    let controls = control_pins(e.board).into_iter();
    let on_net = controls.filter(|c| c.pin.net == Some(net));
    let stated = on_net.map(|c| match &c.part.device {
        Device::Regulator(_) | Device::LoadSwitch(_) => {
            enable_of(c.part).map_or(0.0, |enable| enable.leakage.high())
        }
        Device::Fet(fet) => fet.gate_leakage.map_or(0.0, |l| l.high()),
        _ => 0.0,
    });
    let open_drains = e.board.parts.iter().filter_map(|part| match &part.device {
        Device::Detector(d)
            if d.output == OutputStage::OpenDrain && part.net("out") == Some(net) =>
        {
            Some(d.leakage.high())
        }
        _ => None,
    });
    (stated.sum::<f64>() + open_drains.sum::<f64>())
        * leakage_factor(e.family.requirement.ambient.high)
}

/// One position in which leakage carries a pin over its threshold.
struct Crossed {
    situation: Situation,
    level: f64,
    limit: f64,
    /// Voltage left for the leakage to drop over the pull.
    room: f64,
}

fn weak(e: &Evidence, rule: RuleId, pull: &Pull, control: &ControlPin) -> Option<Finding> {
    let amps = leakage_amps(e, pull.net);
    if amps <= 0.0 {
        return None;
    }
    let (up, down) = (with_leakage(e, pull, amps)?, with_leakage(e, pull, -amps)?);
    let boards = std::slice::from_ref(&e.board.name);
    let up = Circuit::new(&up, boards).ok()?;
    let down = Circuit::new(&down, boards).ok()?;
    let net = e.net_name(pull.net);
    let mut found: Vec<Crossed> = Vec::new();
    // What a tired cell leaves for a gate is the matter of `protection-drop`.
    let end = e.lasting_life().map(|life| life.end.depth);
    let end = end.filter(|_| control.role == Role::Enable);
    let depths = [Some(0.0), end];
    let cases = e.forward().flat_map(|(case, _)| {
        let at = |depth: f64| Situation {
            ambient: e.family.requirement.ambient.high,
            depth,
            ..case.situation.clone()
        };
        depths.into_iter().flatten().map(at)
    });
    for situation in cases {
        let Some(point) = e.point(&situation).filter(|p| alive(e, control, p)) else {
            continue;
        };
        let Some(held) = held(e, control, &point) else {
            continue;
        };
        let circuit = if matches!(held, Held::Below(_)) {
            &up
        } else {
            &down
        };
        let pushed = circuit.solve(&situation, &CellDrive::Rested, Some(&point));
        let Some(level) = pushed.ok().and_then(|p| p.net(&net)) else {
            continue;
        };
        let rest = point.net(&net).unwrap_or(0.0);
        let (limit, crosses) = match held {
            Held::Below(limit) => (limit, limit < level),
            Held::Above(limit) => (limit, level < limit),
        };
        if crosses {
            found.push(Crossed {
                situation,
                level,
                limit,
                room: (limit - rest).abs(),
            });
        }
    }
    let count = found.len();
    let worst = found.into_iter().max_by(|a, b| {
        let over = |c: &Crossed| (c.level - c.limit).abs();
        over(a).total_cmp(&over(b))
    })?;
    Some(weak_finding(e, rule, pull, control, amps, worst, count))
}

fn weak_finding(
    e: &Evidence,
    rule: RuleId,
    pull: &Pull,
    control: &ControlPin,
    amps: f64,
    worst: Crossed,
    count: usize,
) -> Finding {
    // The resistor that is bought may lie at the upper end of its tolerance.
    let most = worst.room / amps * pull.ohms / upper_ohms(pull);
    let level = worst.level.max(0.0);
    let formula = if worst.level < worst.limit {
        "R = (V - V_IH) / I_leak"
    } else {
        "R = V_IL / I_leak"
    };
    let high = e.family.requirement.ambient.high.as_celsius();
    let remedy = if most < 1.0 {
        format!(
            "nothing is left for {} to hold: drive the pin",
            pull.resistor.name
        )
    } else {
        format!(
            "use {} or less for {}; half of that leaves margin against noise",
            words::ohms(Series::E24.at_most(most)),
            pull.resistor.name
        )
    };
    Finding {
        aspect: "leakage",
        nets: vec![e.net_name(pull.net)],
        situations: count,
        measured: Some(Figure::new(level, Unit::Volt)),
        limit: Some(Figure::new(worst.limit, Unit::Volt)),
        says: format!(
            "{} ({}) lets {} of leakage at {} carry {}.{} to {}; the threshold is {} ({}).",
            pull.resistor.name,
            words::ohms(pull.ohms),
            words::amps(amps),
            words::figure(high, Unit::Celsius),
            control.part.name,
            control.pin.name,
            words::volts(level),
            words::volts(worst.limit),
            positions(&worst.situation)
        ),
        remedy,
        basis: format!("TI SCBA004E; {formula} from the data sheet; IEC 60063"),
        situation: Some(worst.situation),
        ..e.finding(
            rule,
            Severity::Fix,
            &[&pull.resistor.name, &control.part.name],
        )
    }
}

/// The largest pull-down that leakage allows on a net, infinite where nothing leaks.
fn most_ohms(e: &Evidence, net: usize) -> f64 {
    let controls = control_pins(e.board).into_iter();
    let lows = controls
        .filter(|c| c.pin.net == Some(net))
        .filter_map(|c| match &c.part.device {
            Device::Regulator(_) | Device::LoadSwitch(_) => {
                enable_of(c.part).map(|enable| enable.low.as_volts())
            }
            Device::Fet(fet) => Some(fet.threshold.low()),
            _ => None,
        });
    lows.fold(f64::INFINITY, f64::min) / leakage_amps(e, net)
}

/// The largest value that a pull may have.
fn upper_ohms(pull: &Pull) -> f64 {
    match &pull.resistor.device {
        Device::Resistor(r) => r.value.high().max(pull.ohms),
        _ => pull.ohms,
    }
}

/// The family with a current pushed into the net of a pull, or drawn out of it where negative, and the
/// pull at its largest.
fn with_leakage(e: &Evidence, pull: &Pull, amps: f64) -> Option<Family> {
    let net = pull.net;
    let mut family = e.family.clone();
    let ground = e.family.connector.ground_net();
    let ground = e.board.nets.iter().position(|n| n == ground)?;
    let board = family.boards.iter_mut().find(|b| b.name == e.board.name)?;
    for part in &mut board.parts {
        if let Device::Resistor(r) = &mut part.device
            && part.name == pull.resistor.name
        {
            r.value = Spread::exactly(Resistance::from_ohms(upper_ohms(pull)));
        }
    }
    let (plus, minus) = if 0.0 < amps {
        (net, ground)
    } else {
        (ground, net)
    };
    let pin = |name: &str, net: usize| Pin {
        name: name.to_owned(),
        net: Some(net),
        declared_open: false,
    };
    board.parts.push(Part {
        name: LEAKAGE.to_owned(),
        kind: Kind::Supply,
        pins: vec![pin("plus", plus), pin("minus", minus)],
        device: Device::Supply(Supply {
            open_circuit: Spread::exactly(Voltage::from_volts(DRIVING_VOLTS)),
            resistance: Spread::exactly(Resistance::from_ohms(0.0)),
            limit: Some(Spread::exactly(Current::from_amps(amps.abs()))),
            sinks: false,
            port: None,
            cable: None,
        }),
        heat: Heat::default(),
        origin: Origin {
            model: None,
            source: None,
            confidence: Confidence::DataSheet,
            class: false,
            cautions: Vec::new(),
        },
    });
    Some(family)
}

/// What a pull takes while its pin is held at the other side.
fn wasteful(e: &Evidence, rule: RuleId, pull: &Pull) -> Option<Finding> {
    let life = e.lasting_life()?;
    let total: f64 = life.ledger.iter().map(|l| l.1).sum();
    let own = life.ledger.iter().filter(|l| l.0 == pull.resistor.name);
    let share = own.map(|l| l.1).sum::<f64>() / total;
    if share < 0.4 * e.sensitivity.win_share {
        return None;
    }
    let id = PropertyId {
        board: Some(e.board.name.clone()),
        part: pull.resistor.name.clone(),
        key: "value".to_owned(),
    };
    let won = e.win_by_drain(&[Change::Set(id, RAISED * pull.ohms)])?;
    if won <= e.sensitivity.win_share {
        return None;
    }
    let usual = e.usual();
    let amps = e.point(&usual)?.part(&pull.resistor.name)?.amps.abs();
    // What would be left of the win if the current were a fiftieth of what the board draws.
    let small = (life.mean_cell_amps - amps).max(0.1 * life.mean_cell_amps) / 50.0;
    let most = Series::E12.at_most(most_ohms(e, pull.net).min(1e9));
    let better = Series::E12.at_least(pull.ohms * amps / small);
    Some(Finding {
        aspect: "waste",
        nets: vec![e.net_name(pull.net)],
        situation: Some(usual),
        measured: Some(Figure::new(won.min(1e6), Unit::Fraction)),
        limit: Some(Figure::new(e.sensitivity.win_share, Unit::Fraction)),
        says: format!(
            "{} ({}) carries {} while its pin is held the other way; without it the board would live {} longer.",
            pull.resistor.name,
            words::ohms(pull.ohms),
            words::amps(amps),
            words::percent(won.min(1e3))
        ),
        remedy: if better <= most {
            format!(
                "use {} or more, up to {} as leakage allows",
                words::ohms(better),
                words::ohms(most)
            )
        } else {
            format!(
                "use {} at most as leakage allows, or hold the pin by a second contact of the switch in \
                 place of a resistor",
                words::ohms(most)
            )
        },
        basis: "common practice".to_owned(),
        ..e.finding(rule, e.weight_of_drain(won), &[&pull.resistor.name])
    })
}
