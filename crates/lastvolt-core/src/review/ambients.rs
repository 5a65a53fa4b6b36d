//! What stands beside the usual life of a board: its lives at the lowest and the highest ambient of the
//! requirement, and those of units whose cells differ.

use std::collections::BTreeMap;

use crate::chance::{LifeSpread, NoSpread, spread};
use crate::circuit::NoPoint;
use crate::progress::{Progress, Silent};
use crate::quantity::{Quantity as _, Temperature};
use crate::review::Evidence;
use crate::time::{Bursts, Cause, Climate, Life, LifeRequest, life};

/// A life at one ambient.
#[derive(Debug, Clone, PartialEq)]
pub struct AmbientLife {
    /// `low`, `usual` or `high`.
    pub which: &'static str,
    /// The ambient; its mean over the year where the usual one is a calendar.
    pub ambient: Temperature,
    /// How it goes there, or why there is no operating point.
    pub ending: Result<Ending, NoPoint>,
}

/// How a life ends at an ambient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ending {
    /// Run time in seconds; none where nothing ends within 100 years.
    pub life_secs: Option<f64>,
    /// Estimated error of the run time in seconds.
    pub error_secs: f64,
    /// Why it ends.
    pub cause: Cause,
}

impl AmbientLife {
    fn new(which: &'static str, ambient: Temperature, life: Result<Life, NoPoint>) -> Self {
        let ending = life.map(|life| Ending {
            life_secs: life.life_secs,
            error_secs: life.error_secs,
            cause: life.end.cause,
        });
        Self {
            which,
            ambient,
            ending,
        }
    }
}

/// What a judged life is beside others of its kind: at other ambients, and of other units.
#[derive(Debug, Default)]
pub(super) struct Beside {
    pub(super) ambients: Vec<AmbientLife>,
    pub(super) spread: Option<LifeSpread>,
}

/// The judged life at each ambient of the requirement, the lowest first, and the lives of other units;
/// nothing where no cell feeds the board. Both while `meanwhile` does its work.
///
/// What could not be worked out is noted in the evidence.
///
/// Bursts are followed at every ambient, so that the three can be compared: what capacitors carry of a
/// burst differs most in the cold.
///
/// # Errors
/// What `meanwhile` could not do.
pub(super) fn beside<T>(
    evidence: &Evidence,
    progress: &dyn Progress,
    meanwhile: impl FnOnce() -> Result<T, NoPoint>,
) -> Result<(Beside, T), NoPoint> {
    let family = evidence.family;
    let Some(typical) = evidence.life() else {
        return Ok((Beside::default(), meanwhile()?));
    };
    let asked = &family.requirement.ambient;
    let (board, profile) = (evidence.board.name.as_str(), evidence.profile);
    let request = |ambient| LifeRequest {
        family,
        board,
        profile: profile.map(|p| p.name.as_str()),
        ambient,
        positions: BTreeMap::new(),
        bursts: Bursts::Followed,
    };
    let usual = Climate::usual(family);
    let steady = |at: Temperature| -> Option<Result<Life, NoPoint>> {
        let is_asked = usual != Climate::Steady(at) && !progress.cancelled();
        is_asked.then(|| life(&request(Climate::Steady(at)), &Silent))
    };
    let confidence = family.requirement.confidence.map(|share| share.si());
    let prepared = evidence.prepared();
    let (mut low, mut high, mut units) = (None, None, None);
    let done = rayon::in_place_scope(|scope| {
        scope.spawn(|_| units = Some(spread(&prepared, typical, confidence)));
        scope.spawn(|_| low = steady(asked.low));
        scope.spawn(|_| high = steady(asked.high));
        meanwhile()
    })?;
    let usual_life = Some(Ok(typical.clone()));
    let found = [
        ("low", asked.low, low),
        ("usual", usual.mean(), usual_life),
        ("high", asked.high, high),
    ];
    let ambients = found.into_iter().filter_map(|(which, ambient, life)| {
        let life = life?;
        if let Err(why) = &life {
            let celsius = ambient.as_celsius();
            evidence.note_unknown(format!("the life at {celsius} °C is not known: {why}"));
        }
        Some(AmbientLife::new(which, ambient, life))
    });
    let ambients = ambients.collect();
    let spread = units.and_then(|units| told(evidence, units, confidence));
    Ok((Beside { ambients, spread }, done))
}

/// The lives of units; what is not known of them is noted, where it is asked for or a cell states how units
/// differ.
fn told(
    evidence: &Evidence,
    units: Result<LifeSpread, NoSpread>,
    confidence: Option<f64>,
) -> Option<LifeSpread> {
    match units {
        Ok(spread) => {
            if let Some(Err(why)) = &spread.promise {
                evidence.note_unknown(format!(
                    "how long the asked share of units lasts is not told: {why}"
                ));
            }
            Some(spread)
        }
        Err(NoSpread::NotStated) if confidence.is_none() => None,
        Err(why) => {
            evidence.note_unknown(format!("how lives of units differ is not told: {why}"));
            None
        }
    }
}
