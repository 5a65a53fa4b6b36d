//! What firmware could watch to warn in time, one entry a voltage of a run.

use lastvolt_core::quantity::Unit;
use lastvolt_core::time::{Node, Notice, Signal};
use schemars::JsonSchema;
use serde::Serialize;

use crate::text::number::{duration, figure};
use crate::view::{Num, RunView};

/// A voltage that firmware could watch.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct WatchView {
    /// `rail-at-rest`, `rail-in-burst`, `cell-at-rest` or `cell-in-burst`.
    pub(crate) name: &'static str,
    /// Where it is measured.
    pub(crate) net: String,
    /// Warn below this.
    pub(crate) threshold_v: Num,
    /// Notice had with it at the low ambient; absent where the life has no end there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) notice_low_s: Option<Num>,
    /// Notice had with it at the usual ambient.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) notice_usual_s: Option<Num>,
    /// Notice had with it at the high ambient.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) notice_high_s: Option<Num>,
    /// The threshold that would be right at the low ambient.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) needed_low_v: Option<Num>,
    /// The threshold that would be right at the high ambient.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) needed_high_v: Option<Num>,
    /// How far the signal still falls below the threshold.
    pub(crate) fall_v: Num,
    /// How much earlier a threshold higher by 10 mV warns.
    pub(crate) step_s: Num,
    /// Whether the threshold can be told.
    pub(crate) tells: bool,
    /// Whether it is the one that serves best.
    pub(crate) best: bool,
    /// What to know about it.
    pub(crate) says: String,
}

impl RunView {
    /// The run with what firmware could watch.
    pub(crate) fn with_notice(mut self, notice: Option<&Notice>) -> Self {
        if let Some(notice) = notice {
            self.notice_s = notice.reached_secs().map(Num);
            let signals = notice.signals.iter().enumerate();
            self.watch = signals
                .map(|(at, signal)| WatchView::new(notice, signal, notice.best == Some(at)))
                .collect();
        }
        self
    }
}

impl WatchView {
    fn new(notice: &Notice, signal: &Signal, best: bool) -> Self {
        let [low, usual, high] = signal.notice_secs.map(|n| n.map(Num));
        let [needed_low, _, needed_high] = signal.needed_volts.map(|v| v.map(Num));
        Self {
            name: signal.name(),
            net: signal.net.clone(),
            threshold_v: Num(signal.threshold_volts),
            notice_low_s: low,
            notice_usual_s: usual,
            notice_high_s: high,
            needed_low_v: needed_low,
            needed_high_v: needed_high,
            fall_v: Num(signal.fall_volts),
            step_s: Num(signal.step_secs),
            tells: signal.tells,
            best,
            says: says(notice, signal),
        }
    }
}

/// Falls below this are none.
const LEAST_VOLTS: f64 = 1e-4;

/// What to know about a signal.
fn says(notice: &Notice, signal: &Signal) -> String {
    if !signal.tells {
        let cannot = if signal.fall_volts < LEAST_VOLTS {
            "does not fall towards the end and cannot tell".to_owned()
        } else {
            let falls = figure(signal.fall_volts, Unit::Volt);
            format!("falls by only {falls} more until the end and cannot tell")
        };
        let serves = notice.best.and_then(|at| notice.signals.get(at));
        return match serves.filter(|s| signal.node == Node::Rail && s.node == Node::Cell) {
            Some(other) => format!("{cannot}: measure {} instead", other.net),
            None => cannot,
        };
    }
    let mut out = match signal.lower_before_secs {
        Some(secs) => format!(
            "stood as low already after {}, so that this threshold warns later than asked",
            duration(secs)
        ),
        None => format!("10 mV higher warns {} sooner", duration(signal.step_secs)),
    };
    if notice.wanted_secs < signal.trace_secs {
        let apart = duration(signal.trace_secs);
        out.push_str(&format!("; read between instants {apart} apart"));
    }
    out
}
