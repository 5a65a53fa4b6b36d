//! How much each part turns into heat for long enough to get hot.

use std::collections::BTreeMap;

use crate::circuit::{CellDrive, Circuit, Point, Situation};
use crate::model::{Device, Family, Law, Load, LoadState};
use crate::quantity::Spread;
use crate::review::Evidence;
use crate::review::evidence::high_corner;

/// From this on a small part is as hot as it gets (common practice: about a second for a chip part or a
/// small package). What is shorter counts by its mean.
const HOT_AFTER_SECS: f64 = 1.0;
/// Name of the load that stands for what the connector promises.
const PROMISED: &str = "(promised)";

/// The most that a part turns into heat and carries.
#[derive(Debug, Clone, PartialEq)]
pub struct Warm {
    /// Name of the part.
    pub part: String,
    /// Power that it absorbs.
    pub watts: f64,
    /// Current into its first pin, without sign, in the same situation.
    pub amps: f64,
    /// Where that is.
    pub situation: Situation,
    /// Whether the promised current of the connector is drawn there.
    pub promised: bool,
}

/// Power and current of every part at a point.
type Parts = Vec<(f64, f64)>;

impl Evidence<'_> {
    /// Whether the board has a source of its own: one without lives from the boards it is plugged on.
    #[must_use]
    pub fn has_source(&self) -> bool {
        let mut parts = self.board.parts.iter();
        parts.any(|p| matches!(p.device, Device::Cell(_) | Device::Supply(_)))
    }

    /// The family with supplies, references and dividers at the limits that give the highest voltages.
    #[must_use]
    pub fn high_family(&self) -> Family {
        high_corner(self.family, self.board)
    }

    /// For each part the most that it turns into heat: in every position that lasts, at the hottest ambient, with
    /// fresh and with tired cells, supplies at their highest, Zener diodes at the typical and at the lowest
    /// breakdown; in base states with the mean of what the
    /// tasks add, in every step that lasts, and with the promised current drawn.
    #[must_use]
    pub fn warmest(&self) -> Vec<Warm> {
        let family = self.high_family();
        let mut most: BTreeMap<String, Warm> = BTreeMap::new();
        self.warmest_of(&family, &mut most);
        if let Some(early) = clamped_early(&family, &self.board.name) {
            self.warmest_of(&early, &mut most);
        }
        most.into_values().collect()
    }

    /// The same of one family, where that is more than what is known.
    fn warmest_of(&self, family: &Family, most: &mut BTreeMap<String, Warm>) {
        let promised = with_promised(family);
        let names = std::slice::from_ref(&self.board.name);
        let Ok(circuit) = Circuit::new(family, names) else {
            return;
        };
        let loaded = promised.as_ref().and_then(|f| Circuit::new(f, names).ok());
        let mut depths = vec![0.0];
        depths.extend(self.life().map(|l| l.end.depth).filter(|d| 0.0 < *d));
        for (case, near) in self.lasting() {
            for &depth in &depths {
                let situation = Situation {
                    depth,
                    ambient: self.family.requirement.ambient.high,
                    ..case.situation.clone()
                };
                self.look_at_heat(&circuit, &situation, near, most);
                if let Some(loaded) = &loaded {
                    self.look_at_promise(loaded, &situation, near, most);
                }
            }
        }
    }

    fn look_at_heat(
        &self,
        circuit: &Circuit,
        situation: &Situation,
        near: &Point,
        most: &mut BTreeMap<String, Warm>,
    ) {
        let solve = |situation: &Situation| {
            let solved = circuit.solve(situation, &CellDrive::Rested, Some(near));
            solved.ok().map(|point| self.heats(&point))
        };
        let Some(base) = solve(situation) else { return };
        let mut mean = base.clone();
        let tasks = self.profile.map_or(&[][..], |p| &p.tasks);
        for task in tasks {
            for step in &task.steps {
                let mut then = situation.clone();
                for (load, state) in &step.set {
                    if then.states.contains_key(load) {
                        then.states.insert(load.clone(), state.clone());
                    }
                }
                let Some(heats) = solve(&then) else { continue };
                #[expect(clippy::cast_precision_loss, reason = "times far below 2^53 ns")]
                let (span, every) = (step.span_ns as f64 * 1e-9, task.every_ns as f64 * 1e-9);
                if HOT_AFTER_SECS <= span {
                    self.note_heat(&heats, &then, false, most);
                }
                for ((mean, step), base) in mean.iter_mut().zip(&heats).zip(&base) {
                    mean.0 += (step.0 - base.0) * span / every;
                    mean.1 += (step.1 - base.1) * span / every;
                }
            }
        }
        self.note_heat(&mean, situation, false, most);
    }

    fn look_at_promise(
        &self,
        circuit: &Circuit,
        situation: &Situation,
        near: &Point,
        most: &mut BTreeMap<String, Warm>,
    ) {
        let mut situation = situation.clone();
        for (name, load) in circuit.loads() {
            if name.starts_with(PROMISED) {
                let state = load.states.first().map(|s| s.name.clone());
                situation.states.insert(name, state.unwrap_or_default());
            }
        }
        let solved = circuit.solve(&situation, &CellDrive::Rested, Some(near));
        if let Ok(point) = solved {
            let heats = self.heats(&point);
            situation
                .states
                .retain(|name, _| !name.starts_with(PROMISED));
            self.note_heat(&heats, &situation, true, most);
        }
    }

    fn heats(&self, point: &Point) -> Parts {
        let parts = self.board.parts.iter();
        let each = parts.map(|p| {
            let solved = point.part(&p.name);
            solved.map_or((0.0, 0.0), |s| (s.watts, s.amps.abs()))
        });
        each.collect()
    }

    fn note_heat(
        &self,
        heats: &Parts,
        situation: &Situation,
        promised: bool,
        most: &mut BTreeMap<String, Warm>,
    ) {
        for (part, &(watts, amps)) in self.board.parts.iter().zip(heats) {
            if most.get(&part.name).is_none_or(|known| known.watts < watts) {
                let warm = Warm {
                    part: part.name.clone(),
                    watts,
                    amps,
                    situation: situation.clone(),
                    promised,
                };
                most.insert(part.name.clone(), warm);
            }
        }
    }
}

/// The family with the Zener diodes of a board at their lowest breakdown; none where none is stated.
fn clamped_early(family: &Family, board: &str) -> Option<Family> {
    let mut out = family.clone();
    let mut any = false;
    let boards = out.boards.iter_mut().filter(|b| b.name == board);
    for part in boards.flat_map(|b| &mut b.parts) {
        if let Device::Zener(zener) = &mut part.device
            && let Some(min) = zener.breakdown.min
        {
            zener.breakdown.typ = min;
            any = true;
        }
    }
    any.then_some(out)
}

/// The family with a load on each rail that draws what the connector promises; none without a promise.
fn with_promised(family: &Family) -> Option<Family> {
    let mut out = family.clone();
    for promise in &family.connector.promises {
        let Some(current) = promise.current else {
            continue;
        };
        out.loads.push(Load {
            name: format!("{PROMISED} {}", promise.pin),
            plus: promise.pin.clone(),
            minus: family.connector.ground_net().to_owned(),
            working: None,
            survives: None,
            ripple: None,
            reset: None,
            states: vec![LoadState {
                name: "drawn".to_owned(),
                law: Law::Current(Spread::exactly(current)),
                working: None,
            }],
            drives: Vec::new(),
            on: None,
        });
    }
    (family.loads.len() < out.loads.len()).then_some(out)
}
