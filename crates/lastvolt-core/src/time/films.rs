//! The films of the cell parts in the engine: their shapes in each mix of tasks, and the rates at which
//! steps and leaps let them relax.
//!
//! A film relaxes at a rate that follows the current. A step or a leap wants one rate throughout, so
//! each mix keeps one that is near, and what is missing is part of the drive:
//!
//! # Formula
//! ```text
//! m' = u - rate m      u = R m* + (rate - R) m
//! ```

use crate::time::engine::{Engine, Mean};
use crate::time::film::{Burning, Shape};

/// Share by which the kept rate may be off before it is taken anew.
const NEAR: f64 = 0.2;

/// What the engine knows of the films of all cell parts.
#[derive(Debug, Clone, Default)]
pub(crate) struct Films {
    /// By cell part: the shape in the mix at hand.
    pub(crate) shapes: Vec<Option<Shape>>,
    /// By mix and cell part: the kept rate of burning, and that of the last look.
    burns: Vec<Vec<(f64, f64)>>,
}

impl Films {
    pub(crate) fn new(sites: usize) -> Self {
        Self {
            shapes: vec![None; sites],
            burns: Vec::new(),
        }
    }

    fn kept(&self, mix: usize, site: usize) -> f64 {
        let own = self.burns.get(mix).and_then(|sites| sites.get(site));
        own.map_or(0.0, |burn| burn.0)
    }

    fn note(&mut self, mix: usize, sites: usize, (site, burn): (usize, f64)) {
        if self.burns.len() <= mix {
            self.burns.resize(mix + 1, Vec::new());
        }
        let burns = &mut self.burns[mix];
        if burns.is_empty() {
            burns.resize(sites, (f64::NAN, 0.0));
        }
        let (kept, last) = &mut burns[site];
        if kept.is_nan() {
            *kept = burn;
        }
        *last = burn;
    }
}

impl Engine<'_, '_, '_> {
    /// Finds the shapes of all films from the currents of the last look.
    pub(crate) fn shape_films(&mut self, mix: usize) {
        for k in 0..self.sites().len() {
            self.films.shapes[k] = self.shape(mix, k);
        }
    }

    fn shape(&self, mix: usize, k: usize) -> Option<Shape> {
        let (film, growth) = self.sites()[k].film?;
        let mix = &self.schedule.mixes[mix];
        let burns = mix.shares.iter();
        let burns = burns.map(|&(joint, share)| share * film.burn_per_sec(self.amps(joint, k)));
        let burning = Burning {
            film,
            growth,
            burn: burns.sum(),
            excess: self.excesses(k),
        };
        Some(Shape::new(&self.schedule, mix, burning))
    }

    /// Drives of all films, from the currents of this look.
    pub(crate) fn drive_films(&mut self, mix: usize, states: &[f64], out: &mut Mean) {
        for k in 0..self.sites().len() {
            let Some(shape) = self.shape(mix, k) else {
                continue;
            };
            let site = &self.sites()[k];
            if let (Some(place), Some((_, growth))) = (site.film_place(), site.film) {
                let sites = self.sites().len();
                self.films.note(mix, sites, (k, shape.rate() - growth));
                let rate = growth + self.films.kept(mix, k);
                out.drive[place] = shape.drive(states[place], rate);
            }
        }
    }

    /// Rate of every state at the temperature that holds, in a mix.
    pub(crate) fn rates_in(&self, mix: usize, out: &mut Vec<f64>) {
        out.clear();
        out.extend_from_slice(self.rates());
        self.add_burns(mix, out);
    }

    /// Adds the rates at which films burn in a mix.
    pub(crate) fn add_burns(&self, mix: usize, rates: &mut [f64]) {
        for (k, site) in self.sites().iter().enumerate() {
            if let Some(place) = site.film_place() {
                rates[place] += self.films.kept(mix, k);
            }
        }
    }

    /// Takes the rates of films anew where they have moved away: by how much the drives of which
    /// states change with the share of the film.
    pub(crate) fn renew_rates(&mut self, mix: usize) -> Vec<(usize, f64)> {
        let mut changes = Vec::new();
        for k in 0..self.sites().len() {
            let site = &self.sites()[k];
            let (Some(place), Some((_, growth))) = (site.film_place(), site.film) else {
                continue;
            };
            let burns = self.films.burns.get_mut(mix);
            let Some((kept, last)) = burns.and_then(|sites| sites.get_mut(k)) else {
                continue;
            };
            let by = *last - *kept;
            if by.abs() > NEAR * (growth + kept.min(*last)) {
                *kept = *last;
                changes.push((place, by));
            }
        }
        changes
    }

    /// The same for every mix of the cycle; says whether any rate has changed.
    pub(crate) fn renew_all_rates(&mut self) -> bool {
        let mut changed = false;
        for regime in 0..self.schedule.regimes.len() {
            let mix = self.schedule.regimes[regime].mix;
            changed |= !self.renew_rates(mix).is_empty();
        }
        changed
    }
}
