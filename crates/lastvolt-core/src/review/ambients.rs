//! What stands beside the usual life of a board: its lives at the lowest and the highest ambient of the
//! requirement, and those of units whose cells differ.

use std::collections::BTreeMap;

use crate::chance::{LifeSpread, spread};
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
    /// Run time in seconds; none where nothing ends within 100 years.
    pub life_secs: Option<f64>,
    /// Estimated error of the run time in seconds.
    pub error_secs: f64,
    /// Why it ends.
    pub cause: Cause,
}

impl AmbientLife {
    fn new(which: &'static str, ambient: Temperature, life: &Life) -> Self {
        Self {
            which,
            ambient,
            life_secs: life.life_secs,
            error_secs: life.error_secs,
            cause: life.end.cause,
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
/// Bursts are followed at every ambient, so that the three can be compared: what capacitors carry of a
/// burst differs most in the cold.
///
/// # Errors
/// No operating point on the way; what `meanwhile` could not do.
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
    let steady = |at: Temperature| -> Result<Option<Life>, NoPoint> {
        if usual == Climate::Steady(at) || progress.cancelled() {
            return Ok(None);
        }
        life(&request(Climate::Steady(at)), &Silent).map(Some)
    };
    let confidence = family.requirement.confidence.map(|share| share.si());
    let (mut low, mut high, mut units) = (Ok(None), Ok(None), None);
    let done = rayon::in_place_scope(|scope| {
        scope.spawn(|_| units = spread(&request(usual), typical, confidence));
        scope.spawn(|_| low = steady(asked.low));
        scope.spawn(|_| high = steady(asked.high));
        meanwhile()
    })?;
    let mut ambients = Vec::new();
    if let Some(life) = low? {
        ambients.push(AmbientLife::new("low", asked.low, &life));
    }
    ambients.push(AmbientLife::new("usual", usual.mean(), typical));
    if let Some(life) = high? {
        ambients.push(AmbientLife::new("high", asked.high, &life));
    }
    let spread = units;
    Ok((Beside { ambients, spread }, done))
}
