//! Waveforms that were followed, kept while their edition lasts, so that a cursor reads from what is
//! drawn.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex};

use lastvolt_core::progress::Silent;
use lastvolt_core::time::{Closely, Followed, NoWave, Question, Waveform};

use crate::web::burst::choice::Plan;
use crate::web::server::Asked;
use crate::web::setting::path;

/// Waveforms that are kept at most.
const MOST_WAVES: usize = 32;
/// Figures of all of them at most: 64 MB.
const MOST_FIGURES: usize = 8_000_000;
/// Into how many steps a stretch is taken apart at least: about one a pixel and a half of its picture.
const STEPS: u32 = 400;

/// A waveform, or why there is none.
pub(super) type Answer = Result<Arc<Followed>, NoWave>;

/// The waveforms of an edition, the newest last.
#[derive(Default)]
pub(crate) struct Waves {
    kept: Mutex<VecDeque<(String, Answer)>>,
}

impl Waves {
    fn find(&self, key: &str) -> Option<Answer> {
        let mut kept = self.kept.lock().ok()?;
        let place = kept.iter().position(|(k, _)| k == key)?;
        let found = kept.remove(place)?;
        let answer = found.1.clone();
        kept.push_back(found);
        Some(answer)
    }

    fn keep(&self, key: String, answer: &Answer) {
        let Ok(mut kept) = self.kept.lock() else {
            return;
        };
        kept.retain(|(k, _)| *k != key);
        kept.push_back((key, answer.clone()));
        let too_many = |kept: &VecDeque<(String, Answer)>| {
            let figures: usize = kept.iter().map(|(_, a)| figures(a)).sum();
            MOST_WAVES < kept.len() || MOST_FIGURES < figures
        };
        while 1 < kept.len() && too_many(&kept) {
            kept.pop_front();
        }
    }
}

fn figures(answer: &Answer) -> usize {
    answer.as_ref().map_or(0, |followed| {
        let wave: &Waveform = &followed.wave;
        wave.time_secs.len() * (1 + wave.nets.len() + wave.cells.len() + wave.supplies.len())
    })
}

/// The waveform of a setting, with short steps in a stretch where one is looked at.
pub(super) fn followed(asked: &Asked, plan: &Plan, stretch: Option<(f64, f64)>) -> Answer {
    let waves = &asked.sound.waves;
    let plain = asked.setting.with(|s| s.shown = [None, None]);
    let (place, query) = (path(&plain.boards), plain.waved());
    let key = match stretch {
        Some((from, to)) => format!("{place}?{query}#{from}..{to}"),
        None => format!("{place}?{query}"),
    };
    if let Some(known) = waves.find(&key) {
        return known;
    }
    let question = Question {
        circuit: &asked.circuit,
        situation: &plan.situation,
        cells: None,
        occasion: plan.occasion.clone(),
        tail_ns: None,
    };
    let closely = stretch.map(|(from_secs, to_secs)| Closely {
        from_secs,
        to_secs,
        steps: STEPS,
    });
    let answer = question.follow_closely(closely, &Silent).map(Arc::new);
    waves.keep(key, &answer);
    answer
}
