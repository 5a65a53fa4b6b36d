//! Lives of units of a board whose cells differ.

use lastvolt_core::chance::spread_while;
use lastvolt_core::progress::Progress;
use lastvolt_core::quantity::{Quantity as _, Temperature};
use lastvolt_core::time::{Bursts, Climate, LifeRequest, Prepared};
use maud::{Markup, html};

use crate::report::{typeset, units_block};
use crate::text::number::{celsius, duration, listed};
use crate::view::SpreadView;
use crate::web::desk::Sound;
use crate::web::lives::LifeKey;

/// Share of the work that the life of the typical unit is.
const TYPICAL: f64 = 0.15;

/// A part of the work, told as its share of the whole.
struct Part<'a> {
    whole: &'a dyn Progress,
    from: f64,
    to: f64,
}

impl Progress for Part<'_> {
    fn at(&self, done: f64) {
        self.whole.at(self.from + done * (self.to - self.from));
    }

    fn cancelled(&self) -> bool {
        self.whole.cancelled()
    }
}

/// The condition in words.
pub(super) fn condition(key: &LifeKey) -> String {
    let mut words = Vec::new();
    words.push(match &key.profile {
        Some(profile) => format!("profile {profile}"),
        None => "base states for ever".to_owned(),
    });
    words.push(match key.ambient {
        Some(milli) => celsius(f64::from(milli) * 1e-3),
        None => "the usual climate".to_owned(),
    });
    words.extend(
        key.positions
            .iter()
            .map(|(name, position)| format!("{name} {position}")),
    );
    listed(&words)
}

/// Works it out.
///
/// # Errors
/// Why there are no such lives.
pub(super) fn run(sound: &Sound, key: &LifeKey, progress: &dyn Progress) -> Result<Markup, String> {
    let family = &sound.family.model;
    let ambient = match key.ambient {
        None => Climate::usual(family),
        Some(milli) => Temperature::from_celsius(f64::from(milli) * 1e-3).into(),
    };
    let request = LifeRequest {
        family,
        board: &key.board,
        profile: key.profile.as_deref(),
        ambient,
        positions: key.positions.clone(),
        bursts: Bursts::Followed,
    };
    let mut prepared = Prepared::new(request);
    let first = Part {
        whole: progress,
        from: 0.0,
        to: TYPICAL,
    };
    let typical = prepared.life(&first).map_err(|why| why.to_string())?;
    if progress.cancelled() {
        return Err("stopped".to_owned());
    }
    let rest = Part {
        whole: progress,
        from: TYPICAL,
        to: 1.0,
    };
    let confidence = family.requirement.confidence.map(|share| share.si());
    let found =
        spread_while(&prepared, &typical, confidence, &rest).map_err(|why| why.to_string())?;
    let view = SpreadView::from(&found);
    let unknown = found.promise.as_ref().and_then(|p| p.as_ref().err());
    Ok(html! {
        @if let Some(secs) = typical.life_secs { p { (typeset(&format!("The typical unit lasts {}.", duration(secs)))) } }
        (units_block(&key.board, &view, family))
        @if let Some(why) = unknown { p.quiet { (typeset(&format!("How long the asked share of units lasts is not told: {why}."))) } }
    })
}
