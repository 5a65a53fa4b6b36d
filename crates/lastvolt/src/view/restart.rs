//! Until when a board of a run can be switched on again.

use lastvolt_core::time::{Hang, Restart, Restarts};
use schemars::JsonSchema;
use serde::Serialize;

use crate::text::number::{celsius, duration, percent};
use crate::view::{Num, RunView};

/// One ambient.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct RestartView {
    /// The ambient, where it is not that of the run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) ambient_c: Option<Num>,
    /// Whether it starts to the end of its life.
    pub(crate) always: bool,
    /// Until when it starts; 0 where it never does, absent where it always does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) until_s: Option<Num>,
    /// Depth of the most used cell then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) depth: Option<Num>,
    /// What keeps it from starting after that.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) says: Option<String>,
}

impl RunView {
    /// The same with until when it can be switched on again.
    pub(crate) fn with_restarts(mut self, restarts: Option<&Restarts>) -> Self {
        if let Some(found) = restarts {
            self.restart.push(RestartView::new(None, &found.usual));
            let cold = found.cold.as_ref();
            let cold = cold.map(|(at, restart)| RestartView::new(Some(at.as_celsius()), restart));
            self.restart.extend(cold);
        }
        self
    }
}

impl RestartView {
    fn new(ambient: Option<f64>, restart: &Restart) -> Self {
        let (until, hang) = match restart {
            Restart::Always => (None, None),
            Restart::Never(hang) => (Some((0.0, None)), Some(hang)),
            Restart::Until {
                time_secs,
                depth,
                hang,
            } => (Some((*time_secs, Some(Num(*depth)))), Some(hang)),
        };
        Self {
            ambient_c: ambient.map(Num),
            always: until.is_none(),
            until_s: until.map(|u| Num(u.0)),
            depth: until.and_then(|u| u.1),
            says: hang.map(words),
        }
    }

    /// All answers of a run as sentences; what is the same in the cold is said once.
    pub(crate) fn sentences(all: &[Self]) -> Vec<String> {
        if let [usual, cold] = all
            && usual.always
            && cold.always
            && let Some(low) = cold.ambient_c
        {
            let low = celsius(low.0);
            return vec![format!(
                "From off it starts again to the end of its life, at {low} too."
            )];
        }
        all.iter().map(Self::sentence).collect()
    }

    fn sentence(&self) -> String {
        let at = self.ambient_c.map(|c| format!(" at {}", celsius(c.0)));
        let at = at.unwrap_or_default();
        match (self.always, self.until_s, self.depth) {
            (true, ..) => format!("From off it starts again{at} to the end of its life."),
            (false, Some(until), Some(depth)) => format!(
                "Off after {} ({} drawn), it does not start again{at}: {}.",
                duration(until.0),
                percent(depth.0),
                self.says.as_deref().unwrap_or_default()
            ),
            _ => format!(
                "It does not even start{at} with fresh cells: {}.",
                self.says.as_deref().unwrap_or_default()
            ),
        }
    }
}

/// What happens instead of a start.
fn words(hang: &Hang) -> String {
    match hang {
        Hang::Hiccup(name) => format!("{name} starts, gives up and starts again without end"),
        Hang::InReset(load) => format!("{load} never leaves reset"),
        Hang::Converter(part) => format!("{part} comes on and never reaches its output"),
        Hang::Low(load) => format!("{load} does not get what it needs"),
        Hang::Unknown => "the start could not be followed".to_owned(),
    }
}
