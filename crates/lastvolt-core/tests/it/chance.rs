//! Lives of units whose cells differ: the points they are drawn from against scipy, their lives against a
//! closed form and against units drawn by chance.

use std::collections::BTreeMap;

use lastvolt_core::chance::{
    LifeSpread, NoPromise, NoSpread, Promise, Quantity, UNITS, promise, spread,
};
use lastvolt_core::device::CellModel;
use lastvolt_core::model::{Device, Family, Kind};
use lastvolt_core::numerics::math;
use lastvolt_core::numerics::normal::{cumulative, truncated};
use lastvolt_core::numerics::sobol::{MOST_DIMENSIONS, sobol};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Fraction, Temperature};
use lastvolt_core::time::{Bursts, LifeRequest, Prepared, life};

use crate::kit::{board, cell, cell_model, current_load, exactly, family};

/// The stored rows of a kind (`data/sobol.py`, scipy 1.17), as numbers.
fn stored(kind: &str) -> Vec<Vec<f64>> {
    let lines = include_str!("data/sobol.csv").lines();
    let rows = lines.filter_map(|line| line.strip_prefix(kind)?.strip_prefix(','));
    let numbers = rows.map(|row| {
        row.split(',')
            .map(|x| x.parse().expect("a number"))
            .collect()
    });
    numbers.collect()
}

#[test]
fn ref_scipy_sobol_points_of_joe_and_kuo() {
    let wanted = stored("point");
    assert_eq!(wanted.len(), 64);
    assert_eq!(sobol(MOST_DIMENSIONS, 64), Some(wanted));
    assert_eq!(sobol(MOST_DIMENSIONS + 1, 64), None);
}

#[test]
fn ref_scipy_normal_distribution_cut_off_at_three_deviations() {
    let wanted = stored("normal");
    assert_eq!(wanted.len(), 64);
    for row in wanted {
        let found = truncated(row[0], 3.0);
        assert!((found - row[1]).abs() < 1e-9, "{row:?}: {found}");
    }
}

/// A board that takes a constant current from one cell.
fn steady(model: CellModel) -> Family {
    let pins: &[(&str, &str)] = &[("plus", "VDD"), ("minus", "GND")];
    let parts = vec![("BT1", Kind::Cell, pins, cell(model, 1))];
    let load = current_load(&[("on", 8e-3)]);
    family(vec![board("coin", parts)], vec![load])
}

fn request(family: &Family) -> LifeRequest<'_> {
    LifeRequest {
        family,
        board: &family.boards[0].name,
        profile: None,
        ambient: Temperature::from_celsius(20.0).into(),
        bursts: Bursts::Followed,
        positions: BTreeMap::new(),
    }
}

fn varied(mut model: CellModel, charge: f64, resistance: f64) -> CellModel {
    model.spread.charge = Fraction::from_share(charge);
    model.spread.resistance = Fraction::from_share(resistance);
    model
}

fn units(family: &Family, confidence: f64) -> Result<LifeSpread, NoSpread> {
    let mut prepared = Prepared::new(request(family));
    let typical = prepared.life(&Silent).expect("a life");
    spread(&prepared, &typical, Some(confidence))
}

fn asked(found: &LifeSpread) -> Promise {
    found.promise.expect("asked for").expect("a promise")
}

fn typical_secs(family: &Family) -> f64 {
    let typical = life(&request(family), &Silent).expect("a life");
    typical.life_secs.expect("an end")
}

/// At a constant voltage and current the life is in proportion to the charge, so that its quantiles are
/// those of the charge.
#[test]
fn ref_lives_at_constant_voltage_and_current_spread_as_the_charge() {
    let sigma = 0.04;
    let model = cell_model(300.0, &[(0.0, 3.0)], &[(0.0, 1.0)]);
    let family = steady(varied(model, sigma, 0.0));
    let found = units(&family, 0.9).expect("a spread");
    let typical = typical_secs(&family);
    assert_eq!(found.lives_secs.len(), UNITS);
    for (k, secs) in found.lives_secs.iter().enumerate() {
        let wanted = 1.0 + sigma * truncated((k as f64 + 0.5) / UNITS as f64, 3.0);
        assert!((secs / typical / wanted - 1.0).abs() < 1e-6, "{k}: {secs}");
    }
    let promise = asked(&found);
    let wanted = truncated(0.1, 3.0);
    let deviations = (promise.secs / typical - 1.0) / sigma;
    assert!((deviations - wanted).abs() < 5e-3, "{deviations} {wanted}");
    // The error of a quantile of so many units drawn by chance, from the density there.
    let density = math::exp(-0.5 * wanted * wanted) / std::f64::consts::TAU.sqrt();
    let error = sigma * typical * (0.09 / UNITS as f64).sqrt() / density;
    let share = promise.standard_error_secs.expect("an error") / error;
    assert!((0.85..1.15).contains(&share), "{share}");
    let told: Vec<_> = found
        .varied
        .iter()
        .map(|v| (v.part.as_str(), v.quantity))
        .collect();
    assert_eq!(told, [("BT1", Quantity::Charge)]);
}

/// A cell whose voltage falls to what the load works from before it is empty, earlier the higher its
/// resistance is.
fn falling() -> CellModel {
    let emf = [
        (0.0, 3.2),
        (0.05, 3.05),
        (0.5, 2.9),
        (0.85, 2.6),
        (1.0, 2.0),
    ];
    let ohms = [(0.0, 20.0), (0.6, 30.0), (0.9, 60.0), (1.0, 90.0)];
    varied(cell_model(300.0, &emf, &ohms), 0.05, 0.25)
}

/// Numbers between 0 and 1 by chance.
struct Dice(u64);

impl Dice {
    fn share(&mut self) -> f64 {
        // Constants of Knuth's MMIX generator.
        let next = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = next.wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// From two uniform numbers, those beyond three deviations thrown away.
    fn normal(&mut self) -> f64 {
        loop {
            // The polar form of Marsaglia (1964), which asks for no cosine.
            let (x, y) = (2.0 * self.share() - 1.0, 2.0 * self.share() - 1.0);
            let square = x * x + y * y;
            if square <= 0.0 || 1.0 <= square {
                continue;
            }
            let found = x * (-2.0 * math::ln(square) / square).sqrt();
            if found.abs() <= 3.0 {
                return found;
            }
        }
    }
}

/// Two thousand units by chance: what a few drawn evenly say of the lives must agree within three
/// standard errors of the many and half of one of the few.
#[test]
fn ref_units_drawn_by_chance_have_the_same_quantiles() {
    let family = steady(falling());
    let Device::Cell(own) = &family.boards[0].parts[0].device else {
        panic!("a cell");
    };
    let mut prepared = Prepared::new(request(&family));
    let mut dice = Dice(2026);
    let mut lives: Vec<f64> = (0..2000)
        .map(|_| {
            let (charge, ohms) = (1.0 + 0.05 * dice.normal(), 1.0 + 0.25 * dice.normal());
            let model = CellModel {
                charge: exactly(charge * own.model.charge.si()),
                resistance: own.model.resistance.map(|_, y| ohms * y),
                ..own.model.clone()
            };
            let life = prepared.life_with(&[model], &Silent).expect("a life");
            life.life_secs.expect("an end")
        })
        .collect();
    lives.sort_by(f64::total_cmp);
    for confidence in [0.9, 0.75, 0.5] {
        let few = asked(&units(&family, confidence).expect("a spread"));
        let many = promise(&lives, confidence).expect("a promise");
        let off = (few.secs - many.secs).abs();
        let error = |promise: &Promise| promise.standard_error_secs.expect("an error");
        let allowed = 3.0 * error(&many) + 0.5 * error(&few);
        assert!(off < allowed, "{confidence}: {off} of {allowed}");
        // The many must be able to tell a spread of half or twice as much from this one.
        let width = (many.secs - lives[1000]).abs();
        assert!(
            confidence < 0.8 || allowed < 0.5 * width,
            "{allowed} {width}"
        );
    }
}

#[test]
fn law_units_are_the_same_on_any_number_of_threads() {
    let family = steady(falling());
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.expect("threads").install(|| units(&family, 0.9))
    };
    let alone = on(1);
    assert!(alone.is_ok());
    assert_eq!(alone, on(3));
}

#[test]
fn a_cell_without_a_stated_spread_has_none_of_lives() {
    // A share of which a factor keeps nothing is none either.
    for share in [0.0, 1e-17] {
        let family = steady(varied(falling(), share, share));
        assert_eq!(units(&family, 0.9), Err(NoSpread::NotStated));
    }
}

#[test]
fn a_life_without_an_end_says_so_in_place_of_a_spread() {
    let mut family = steady(falling());
    family.loads.clear();
    assert_eq!(units(&family, 0.9), Err(NoSpread::TypicalNeverEnds));
}

/// Sixty-four units cannot say what 999 of 1000 reach.
#[test]
fn a_share_beyond_what_the_units_show_is_not_promised() {
    let family = steady(falling());
    let found = units(&family, 0.999).expect("a spread");
    let why = NoPromise::BeyondUnits {
        confidence: 0.999,
        units: UNITS,
    };
    assert_eq!(found.promise, Some(Err(why)));
    assert!((cumulative(0.0) - 0.5).abs() < 1e-15);
}
