//! `usb-limits`: does a board that hangs on a USB port keep to what the port allows?
//!
//! Looked at are the charge that the input capacitors take at plug-in, the standing current, the current in
//! suspend, and the loads at the lowest voltage of a port.
//!
//! # References
//! USB 2.0, 7.2.4.1 (10 uF at most; here as charge at 5 V, 50 uC), table 7-7 and 7.2 (unit load 100 mA,
//! 500 mA once configured, 4.40 V at a port of low power, 2.5 mA in suspend): figures from memory, confirmed
//! by secondary pages.

use crate::circuit::Situation;
use crate::device::{Port, Supply, Topology};
use crate::model::{Device, Part};
use crate::quantity::Unit;
use crate::review::evidence::Shortfall;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// 10 uF at 5 V.
const PLUG_IN_COULOMBS: f64 = 50e-6;
const NOMINAL_VOLTS: f64 = 5.0;
const UNIT_LOAD_AMPS: f64 = 0.1;
const CONFIGURED_AMPS: f64 = 0.5;
const SUSPEND_AMPS: f64 = 2.5e-3;
const LOW_PORT_VOLTS: f64 = 4.40;
/// Share by which a figure may pass a limit that is itself rounded.
const ROUNDING: f64 = 0.01;

pub(super) struct UsbLimits;

impl Rule for UsbLimits {
    fn id(&self) -> RuleId {
        "usb-limits"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let parts = e.board.parts.iter();
        let ports = parts.filter_map(|part| match &part.device {
            Device::Supply(s) if s.port == Some(Port::Usb) => Some((part, s)),
            _ => None,
        });
        let each = ports.flat_map(|(part, supply)| {
            let rule = self.id();
            [
                plug_in(e, rule, part),
                standing(e, rule, part, supply),
                suspend(e, rule, part),
                low_port(e, rule, part, supply),
            ]
        });
        each.flatten().collect()
    }
}

/// Charge that the capacitors on the port take, and with those behind linear regulators.
fn plug_in(e: &Evidence, rule: RuleId, part: &Part) -> Option<Finding> {
    // A load switch that limits to a unit load charges what is behind it slowly enough.
    let is_fast = |part: &Part| match &part.device {
        Device::LoadSwitch(s) => s.limit.is_none_or(|l| UNIT_LOAD_AMPS < l.high()),
        _ => true,
    };
    let most_ohms = NOMINAL_VOLTS / UNIT_LOAD_AMPS;
    let nets = e.charged_from(part.net("plus")?, most_ohms, &is_fast);
    let held = |nets: &[bool], volts: f64| {
        let all = e.capacitors_on(nets).into_iter();
        let all = all.map(|(p, c)| (p.name.clone(), c.charge_at(volts)));
        all.collect::<Vec<_>>()
    };
    let direct = held(&nets, NOMINAL_VOLTS);
    let direct_coulombs: f64 = direct.iter().map(|c| c.1).sum();
    let behind = behind_regulators(e, &nets, &held);
    let whole = direct_coulombs + behind.iter().map(|c| c.1).sum::<f64>();
    let limit = PLUG_IN_COULOMBS * (1.0 + ROUNDING);
    if whole <= limit {
        return None;
    }
    let (severity, coulombs, at) = if limit < direct_coulombs {
        (Severity::Fix, direct_coulombs, "on the port")
    } else {
        (
            Severity::Note,
            whole,
            "on the port and behind its regulators",
        )
    };
    let most = direct.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    let most = most.map(|c| c.0.as_str());
    let parts: Vec<&str> = most.into_iter().chain([part.name.as_str()]).collect();
    Some(Finding {
        aspect: "plug-in",
        measured: Some(Figure::new(coulombs, Unit::Coulomb)),
        limit: Some(Figure::new(PLUG_IN_COULOMBS, Unit::Coulomb)),
        says: format!(
            "Plugged in, the capacitors {at} take {} at once; a USB port allows 10 uF, which is {} at 5 V.",
            words::figure(coulombs, Unit::Coulomb),
            words::figure(PLUG_IN_COULOMBS, Unit::Coulomb)
        ),
        remedy: "keep no more than 10 uF on the port, and put what is larger behind a switch or regulator that \
                 limits the current to 100 mA while it starts"
            .to_owned(),
        basis: "USB 2.0, 7.2.4.1 (from memory)".to_owned(),
        ..e.finding(rule, severity, &parts)
    })
}

/// Capacitors that a linear regulator on the port charges.
fn behind_regulators(
    e: &Evidence,
    nets: &[bool],
    held: &impl Fn(&[bool], f64) -> Vec<(String, f64)>,
) -> Vec<(String, f64)> {
    let Some(point) = e.point(&e.usual()) else {
        return Vec::new();
    };
    let linear = e.working(&point).into_iter();
    let linear = linear.filter(|w| w.device.topology == Topology::Linear);
    let mut out = Vec::new();
    for at in linear {
        if let (Some(input), Some(output)) = (at.part.net("in"), at.part.net("out"))
            && nets[input]
            && !nets[output]
        {
            out.extend(held(&e.fed_from(output), at.out_volts));
        }
    }
    out
}

/// The largest current of the port over joint states, base states first.
fn standing(e: &Evidence, rule: RuleId, part: &Part, supply: &Supply) -> Option<Finding> {
    let amps = |states| {
        let situation = Situation {
            states,
            ..e.usual()
        };
        let point = e.point(&situation)?;
        Some((point.part(&part.name)?.amps, situation))
    };
    let (base, usual) = amps(e.usual().states)?;
    let (most, worst) = e
        .joint_states()
        .into_iter()
        .filter_map(amps)
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    let said = supply.limit.map(|l| l.low());
    let allowed = said.unwrap_or(UNIT_LOAD_AMPS);
    let over = |amps: f64, limit: f64| limit * (1.0 + ROUNDING) < amps;
    let (severity, amps, limit, situation, when) = if over(base, allowed) {
        (
            Severity::Fix,
            base,
            allowed,
            usual,
            "with every load in its base state",
        )
    } else if over(most, said.unwrap_or(0.0).max(CONFIGURED_AMPS)) {
        (
            Severity::Fix,
            most,
            CONFIGURED_AMPS.max(allowed),
            worst,
            "with every load in its hungriest state",
        )
    } else if over(most, allowed) {
        (
            Severity::Note,
            most,
            allowed,
            worst,
            "with every load in its hungriest state",
        )
    } else {
        return None;
    };
    Some(Finding {
        aspect: "standing",
        situation: Some(situation),
        measured: Some(Figure::new(amps, Unit::Ampere)),
        limit: Some(Figure::new(limit, Unit::Ampere)),
        says: format!(
            "The board draws {} from the USB port {when}; the port allows {}{}.",
            words::amps(amps),
            words::amps(limit),
            if said.is_none() && limit <= UNIT_LOAD_AMPS {
                " to a device that it has not configured"
            } else {
                ""
            }
        ),
        remedy: "draw less, or take a port that gives more and say so as its `limit`: a USB 2.0 port gives 100 mA, \
                 500 mA once it has configured the device"
            .to_owned(),
        basis: "USB 2.0, 7.2.1 and table 7-7 (from memory, confirmed by secondary pages)".to_owned(),
        ..e.finding(rule, severity, &[&part.name])
    })
}

/// Current in base states above what a suspended port allows.
fn suspend(e: &Evidence, rule: RuleId, part: &Part) -> Option<Finding> {
    let usual = e.usual();
    let amps = e.point(&usual)?.part(&part.name)?.amps;
    (SUSPEND_AMPS * (1.0 + ROUNDING) < amps).then(|| Finding {
        aspect: "suspend",
        situation: Some(usual),
        measured: Some(Figure::new(amps, Unit::Ampere)),
        limit: Some(Figure::new(SUSPEND_AMPS, Unit::Ampere)),
        says: format!(
            "In base states the board draws {}; a suspended USB port allows {}.",
            words::amps(amps),
            words::amps(SUSPEND_AMPS)
        ),
        remedy: "no matter on a charger or a port that never sleeps; otherwise let the load sleep when the port does".to_owned(),
        basis: "USB 2.0, 7.2.3 (from memory)".to_owned(),
        ..e.finding(rule, Severity::Note, &[&part.name])
    })
}

/// Loads that lack voltage at the lowest voltage of a port and have it at the usual one.
fn low_port(e: &Evidence, rule: RuleId, part: &Part, supply: &Supply) -> Option<Finding> {
    let volts = supply
        .open_circuit
        .min
        .map_or(LOW_PORT_VOLTS, |v| v.as_volts());
    let family = e.with_supplies(|p| (p.name == part.name).then_some(volts));
    let mut found: Vec<(Situation, Shortfall)> = Vec::new();
    for states in e.joint_states() {
        let situation = Situation {
            states,
            ..e.usual()
        };
        let usual = e.point(&situation)?;
        let lacks = |s: &Shortfall| !s.awake || s.volts < s.range.from.as_volts();
        if e.shortfalls(&situation, &usual).iter().any(lacks) {
            return None;
        }
        let Some(point) = e.point_in(&family, &situation) else {
            continue;
        };
        let short = e.shortfalls(&situation, &point).into_iter();
        found.extend(short.filter(lacks).map(|s| (situation.clone(), s)));
    }
    let count = found.len();
    let lack = |s: &Shortfall| s.range.from.as_volts() - s.volts;
    let (situation, short) = found
        .into_iter()
        .max_by(|a, b| lack(&a.1).total_cmp(&lack(&b.1)))?;
    Some(Finding {
        aspect: "low-port",
        situation: Some(situation),
        situations: count,
        measured: Some(Figure::new(short.volts, Unit::Volt)),
        limit: Some(Figure::new(short.range.from.as_volts(), Unit::Volt)),
        says: format!(
            "With {} at the port {} gets {} in state {}; it works from {}.",
            words::volts(volts),
            short.load,
            words::volts(short.volts),
            short.state,
            words::volts(short.range.from.as_volts())
        ),
        remedy: format!(
            "win at least {} between port and load: less dropout, less resistance or a lower output, or ask for a \
             port of high power (4.75 V) and say so as the lower limit of its voltage",
            words::volts(lack(&short))
        ),
        basis: "USB 2.0, 7.2.2 and table 7-7: 4.40 V at a port of low power (from memory, confirmed by secondary pages)"
            .to_owned(),
        ..e.finding(rule, Severity::Fix, &[&part.name])
    })
}
