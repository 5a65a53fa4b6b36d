//! What taking something away would win of the life.

use crate::circuit::{CellDrive, Circuit, Point, Situation};
use crate::model::{Change, Family, Kind};
use crate::numerics::root::bracketed;
use crate::progress::Silent;
use crate::review::{Evidence, Severity};
use crate::time::{Bursts, Life, LifeRequest, life};

/// Won life from which a drain is worth removing even where the required life is reached: it takes half
/// of the charge.
const LARGE_WIN: f64 = 1.0;

/// Depths at which a steady drain is looked at, as shares of the depth at the end.
const DEPTH_SHARES: [f64; 5] = [0.1, 0.3, 0.5, 0.7, 0.9];

impl Evidence<'_> {
    /// The share of the life that changes win, positive where they prolong it, from a life of its own.
    #[must_use]
    pub fn win(&self, changes: &[Change]) -> Option<f64> {
        let key = format!("{changes:?}");
        if let Some(known) = self.wins.borrow().get(&key) {
            return *known;
        }
        let won = self.compute_win(changes);
        self.wins.borrow_mut().insert(key, won);
        won
    }

    /// The life, where the cells give more than they get: else nothing is to be won.
    fn draining_life(&self) -> Option<&Life> {
        self.lasting_life().filter(|l| 0.0 < l.mean_cell_amps)
    }

    fn compute_win(&self, changes: &[Change]) -> Option<f64> {
        self.draining_life()?;
        let now = self.settled_secs()?;
        let changed = self.family.with(changes).ok()?;
        let then = life(&self.settled(&changed), &Silent).ok()?;
        // Without an end the cause was what ended it.
        Some(
            then.life_secs
                .map_or(f64::INFINITY, |secs| secs / now - 1.0),
        )
    }

    /// Lives are compared with settled bursts on both sides: that is quicker, and what a capacitor
    /// carries of a burst it carries in both.
    pub(super) fn settled<'f>(&'f self, family: &'f Family) -> LifeRequest<'f> {
        LifeRequest {
            bursts: Bursts::Settled,
            ..self.request(family)
        }
    }

    pub(super) fn settled_secs(&self) -> Option<f64> {
        *self.settled.get_or_init(|| {
            // The followed life comes first: it says how many points it solved by itself.
            self.solved_life().ok()?;
            let mut prepared = self.prepared().taking(Bursts::Settled);
            let life = prepared.life(&Silent).ok()?;
            life.life_secs.filter(|secs| *secs > 0.0)
        })
    }

    /// The share of the life that is won where changes take away a steady drain.
    ///
    /// # Formula
    /// ```text
    /// life = sum over depth of  Q dd / (I_base(d) + I_burst + I_self)
    /// ```
    /// I_base(d) is solved in base states, with and without the drain. I_burst, the mean of what bursts
    /// add, is what makes the sum with the drain the life that was computed. The depth at the end is
    /// taken as the same, which it nearly is: a drain far below the bursts moves no voltage.
    #[must_use]
    pub fn win_by_drain(&self, changes: &[Change]) -> Option<f64> {
        let life = self.draining_life()?;
        let changed = self.family.with(changes).ok()?;
        let boards = std::slice::from_ref(&self.board.name);
        let circuit = Circuit::new(&changed, boards).ok()?;
        let (mut before, mut after) = (Vec::new(), Vec::new());
        for share in DEPTH_SHARES {
            let situation = Situation {
                depth: share * life.end.depth,
                ..self.usual()
            };
            let now = self.point(&situation)?;
            let rested = &CellDrive::Rested;
            let then = circuit.solve(&situation, rested, Some(&now)).ok()?;
            before.push(self.most_cell_amps(&now));
            after.push(self.most_cell_amps(&then));
        }
        let (_, cell) = self.cell()?;
        let itself = self.self_discharge_amps();
        let start = life.shelf.map_or(0.0, |shelf| shelf.depth);
        let drawn = cell.model.charge.si() * (life.end.depth - start);
        let lasts = |base: &[f64], burst: f64| mean(base, |i| drawn / (i + burst + itself));
        let secs = life.life_secs?;
        let most = life.mean_cell_amps;
        let burst = bracketed(|b| lasts(&before, b) - secs, 0.0, most, 1e-6 * most);
        let burst = burst.unwrap_or(0.0);
        let then = lasts(&after, burst);
        let won = then / lasts(&before, burst) - 1.0;
        Some(
            if won.is_finite() && after.iter().all(|i| 0.0 < i + burst + itself) {
                won
            } else {
                f64::INFINITY
            },
        )
    }

    /// Current of the most used cell part.
    fn most_cell_amps(&self, point: &Point) -> f64 {
        let parts = self.board.parts.iter();
        let cells = parts.filter(|p| p.kind == Kind::Cell);
        let amps = cells.filter_map(|p| point.part(&p.name)).map(|p| p.amps);
        amps.fold(0.0, f64::max)
    }

    /// Self-discharge of the first cell part as a current, at the usual ambient.
    #[must_use]
    pub fn self_discharge_amps(&self) -> f64 {
        let celsius = self.family.requirement.ambient.usual.as_celsius();
        self.cell().map_or(0.0, |(_, cell)| {
            cell.model.charge.si() * cell.model.self_discharge_per_sec(celsius)
        })
    }

    /// What a drain that would win this share of the life weighs: worth knowing only where the required
    /// life is reached and less than half of the charge is at stake.
    #[must_use]
    pub fn weight_of_drain(&self, won: f64) -> Severity {
        if self.reaches_requirement() == Some(true) && won < LARGE_WIN {
            Severity::Note
        } else {
            Severity::Fix
        }
    }

    /// Whether the required life is known to be reached, one cold night included.
    #[must_use]
    pub fn reaches_requirement(&self) -> Option<bool> {
        let required = self.family.requirement.life?.as_secs();
        let life = self.life()?;
        let night = life.cold_night.map_or(f64::INFINITY, |n| n.time_secs);
        let secs = life.life_secs.unwrap_or(f64::INFINITY);
        Some(required <= secs.min(night))
    }
}

fn mean(values: &[f64], f: impl Fn(f64) -> f64) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a handful")]
    let count = values.len() as f64;
    values.iter().map(|v| f(*v)).sum::<f64>() / count
}
