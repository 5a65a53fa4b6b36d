//! The life of a board at the lowest and the highest ambient of the requirement, beside the usual one.

use std::collections::BTreeMap;

use crate::circuit::NoPoint;
use crate::progress::{Progress, Silent};
use crate::quantity::Temperature;
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

/// The judged life at each ambient of the requirement, the lowest first; empty where no cell feeds the
/// board. Bursts are followed at every ambient, so that the three can be compared: what capacitors
/// carry of a burst differs most in the cold.
///
/// # Errors
/// No operating point on the way.
pub(super) fn ambients(
    evidence: &Evidence,
    progress: &dyn Progress,
) -> Result<Vec<AmbientLife>, NoPoint> {
    let family = evidence.family;
    let Some(usual) = evidence.life() else {
        return Ok(Vec::new());
    };
    let asked = &family.requirement.ambient;
    let mean = Climate::usual(family).mean();
    let (board, profile) = (&evidence.board.name, evidence.profile);
    let steady = |at: Temperature| -> Result<Option<Life>, NoPoint> {
        if asked.monthly.is_none() && at == asked.usual || progress.cancelled() {
            return Ok(None);
        }
        let request = LifeRequest {
            family,
            board,
            profile: profile.map(|p| p.name.as_str()),
            ambient: Climate::Steady(at),
            positions: BTreeMap::new(),
            bursts: Bursts::Followed,
        };
        life(&request, &Silent).map(Some)
    };
    let (low, high) = rayon::join(|| steady(asked.low), || steady(asked.high));
    let mut out = Vec::new();
    if let Some(life) = low? {
        out.push(AmbientLife::new("low", asked.low, &life));
    }
    out.push(AmbientLife::new("usual", mean, usual));
    if let Some(life) = high? {
        out.push(AmbientLife::new("high", asked.high, &life));
    }
    Ok(out)
}
