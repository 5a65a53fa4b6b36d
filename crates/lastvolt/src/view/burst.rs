//! The document of `burst`: voltages and currents over time, and what they come to.

use lastvolt_core::circuit::Situation;
use lastvolt_core::time::{Followed, Happening, Lowest, NeedSeen, Waveform};
use schemars::JsonSchema;
use serde::Serialize;

use crate::view::{Named, Num, SituationView, nums};

/// One waveform.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct BurstView {
    /// The situation around which everything happens.
    pub(crate) situation: SituationView,
    /// The tasks that run, where tasks do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) task: Option<String>,
    /// Instants; none is before the one in front of it, and a jump has the same one twice.
    pub(crate) time_s: Vec<Num>,
    /// Voltage of every net but ground.
    pub(crate) nets: Named<Vec<Num>>,
    /// Current that each cell part gives.
    pub(crate) cells: Named<Vec<Num>>,
    /// Current that each supply gives.
    #[serde(skip_serializing_if = "Named::is_empty")]
    pub(crate) supplies: Named<Vec<Num>>,
    /// What the waveform comes to.
    #[serde(flatten)]
    pub(crate) figures: FiguresView,
}

/// What a waveform comes to.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct FiguresView {
    /// The lowest voltage of the rail; when starting, from when it is good.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) lowest: Option<LowestView>,
    /// From the last edge until the rail is within 1 % of its rest; null where it never is.
    pub(crate) recovery_s: Option<Num>,
    /// Charge that the sources give until all is good.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) inrush_as: Option<Num>,
    /// Their largest current.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) inrush_peak_a: Option<Num>,
    /// When that flows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) inrush_peak_s: Option<Num>,
    /// When every load is up and in its range after switching on; null where that is never.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) good_s: Option<Option<Num>>,
    /// When schedule or switches change something.
    pub(crate) edges_s: Vec<Num>,
    /// What happens by itself.
    pub(crate) events: Vec<EventView>,
    /// What repeats without end, where something does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) hiccup: Option<HiccupView>,
    /// How near each load came to the end of its working range.
    pub(crate) needs: Vec<NeedView>,
}

/// The lowest voltage of the rail.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct LowestView {
    /// The net.
    pub(crate) net: String,
    /// Its voltage.
    pub(crate) net_v: Num,
    /// When.
    pub(crate) time_s: Num,
}

/// Something that happens by itself.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct EventView {
    /// When.
    pub(crate) time_s: Num,
    /// What.
    pub(crate) what: &'static str,
    /// The load or part.
    pub(crate) name: String,
}

/// A sequence that repeats.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct HiccupView {
    /// Length of one round.
    pub(crate) period_s: Num,
}

/// How near a load came to the end of its working range in one of its states.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct NeedView {
    /// The load.
    pub(crate) load: String,
    /// The state.
    pub(crate) state: String,
    /// Lowest voltage at which it works in this state.
    pub(crate) from_v: Num,
    /// The lowest it saw.
    pub(crate) lowest_v: Num,
    /// When.
    pub(crate) time_s: Num,
    /// For how long it was below, in reset or booting.
    pub(crate) below_s: Num,
}

impl BurstView {
    /// The document of a waveform.
    pub(crate) fn new(situation: &Situation, task: Option<String>, followed: &Followed) -> Self {
        let wave = &followed.wave;
        let named = |list: &[(String, Vec<f64>)]| {
            let each = list
                .iter()
                .map(|(name, values)| (name.clone(), nums(values)));
            each.collect()
        };
        Self {
            situation: situation.into(),
            task,
            time_s: nums(&wave.time_secs),
            nets: named(&wave.nets),
            cells: named(&wave.cells),
            supplies: named(&wave.supplies),
            figures: FiguresView::new(wave),
        }
    }
}

impl FiguresView {
    /// What a waveform comes to.
    pub(crate) fn new(wave: &Waveform) -> Self {
        let inrush = wave.inrush.as_ref();
        // A need that never had an instant of its own says nothing.
        let needs = wave.needs.iter().filter(|n| n.lowest_volts.is_finite());
        Self {
            lowest: wave.lowest.as_ref().map(LowestView::from),
            recovery_s: wave.recovery_secs.map(Num),
            inrush_as: inrush.map(|i| Num(i.coulombs)),
            inrush_peak_a: inrush.map(|i| Num(i.peak_amps)),
            inrush_peak_s: inrush.map(|i| Num(i.peak_secs)),
            good_s: inrush.map(|_| wave.good_secs.map(Num)),
            edges_s: nums(&wave.edges_secs),
            events: wave.happenings.iter().map(EventView::from).collect(),
            hiccup: wave.hiccup.as_ref().map(|h| HiccupView {
                period_s: Num(h.period_secs),
            }),
            needs: needs.map(NeedView::from).collect(),
        }
    }
}

impl From<&Lowest> for LowestView {
    fn from(lowest: &Lowest) -> Self {
        Self {
            net: lowest.net.clone(),
            net_v: Num(lowest.volts),
            time_s: Num(lowest.time_secs),
        }
    }
}

impl From<&Happening> for EventView {
    fn from(event: &Happening) -> Self {
        Self {
            time_s: Num(event.time_secs),
            what: event.kind.word(),
            name: event.name.clone(),
        }
    }
}

impl From<&NeedSeen> for NeedView {
    fn from(need: &NeedSeen) -> Self {
        Self {
            load: need.load.clone(),
            state: need.state.clone(),
            from_v: Num(need.from_volts),
            lowest_v: Num(need.lowest_volts),
            time_s: Num(need.time_secs),
            below_s: Num(need.below_secs),
        }
    }
}
