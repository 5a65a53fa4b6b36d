//! The document of `life`: run time, cause of the end, ledger and trace of every run.

use lastvolt_core::time::{Calendar, Cause, Climate, ColdNight, End, Life, RailTrace, Shelf};
use schemars::JsonSchema;
use serde::Serialize;

use crate::view::{Named, Num, RestartView, WatchView, nums};

/// All runs, boards and profiles in file order.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct LifeView {
    /// The runs.
    pub(crate) runs: Vec<RunView>,
}

/// One run.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct RunView {
    /// Name of the board.
    pub(crate) board: String,
    /// Name of the profile, where the family has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) profile: Option<String>,
    /// Temperature around the board; its mean over the year where a calendar is followed.
    pub(crate) ambient_c: Num,
    /// Positions of switches and jumpers.
    pub(crate) positions: Named<String>,
    /// Run time; null where nothing ends it.
    pub(crate) life_s: Option<Num>,
    /// Estimated error of the run time.
    pub(crate) life_error_s: Num,
    /// How it ends.
    pub(crate) end: EndView,
    /// Share of the charge that stays unused.
    pub(crate) stranded: Num,
    /// Until when it can be switched on again: at the run's ambient, then at the lowest.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) restart: Vec<RestartView>,
    /// Notice had with the threshold that serves best, where a notice is asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) notice_s: Option<Num>,
    /// What firmware could watch to warn in time.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) watch: Vec<WatchView>,
    /// Mean current of the most used cell, without self-discharge.
    pub(crate) mean_cell_a: Num,
    /// Where the energy went.
    pub(crate) ledger: Vec<LedgerView>,
    /// |U(0) - sum| / U(0).
    pub(crate) ledger_error: Num,
    /// What a time on the shelf has cost before the start, where the requirement asks for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) storage: Option<StorageView>,
    /// What the months make of it, where a calendar is followed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) calendar: Option<CalendarView>,
    /// From when one cold night ends it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) cold_night: Option<ColdNightView>,
    /// What happened on the way.
    pub(crate) trace: TraceView,
}

/// How a run ends.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct EndView {
    /// Why.
    pub(crate) cause: &'static str,
    /// The load whose need is not met.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) load: Option<String>,
    /// The state it is in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) state: Option<String>,
    /// The task that put it there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) task: Option<String>,
    /// The net concerned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) net: Option<String>,
    /// Its voltage.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) net_v: Option<Num>,
    /// Terminal voltage of a cell, lowest of a string.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) cell_v: Option<Num>,
    /// Depth of the most used cell.
    pub(crate) depth: Num,
    /// Volts lost between the open cell and the load, where that is what ends the life; what a step-up
    /// converter adds is not set against it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) drop_v: Option<Num>,
    /// Where it is lost: shares of one by name.
    #[serde(skip_serializing_if = "Named::is_empty")]
    pub(crate) shares: Named<Num>,
    /// By how many volts the drop is less for what capacitors give at that instant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) bypass_v: Option<Num>,
}

/// One line of the ledger.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct LedgerView {
    /// Its name.
    pub(crate) line: String,
    /// Its energy.
    pub(crate) joule: Num,
}

/// What a time on the shelf has cost.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct StorageView {
    /// Time on the shelf.
    pub(crate) time_s: Num,
    /// Depth of the most used cell at the start of use.
    pub(crate) depth: Num,
    /// Energy that the cells have lost.
    pub(crate) lost_j: Num,
}

/// The three answers of a calendar.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct CalendarView {
    /// Month of first use, 1 for January.
    pub(crate) start_month: usize,
    /// When a need first fails; absent where none does within 100 years.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) first_failure_s: Option<Num>,
    /// Time below need after that, until the permanent end.
    pub(crate) below_need_s: Num,
    /// From when on some need is never met again; absent where that is later than 100 years.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) permanent_end_s: Option<Num>,
}

/// From when one night at the low ambient ends a run.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct ColdNightView {
    /// Time at the usual ambient.
    pub(crate) time_s: Num,
    /// Depth of the most used cell then.
    pub(crate) depth: Num,
}

/// What happened on the way, one entry an instant.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct TraceView {
    /// Instants.
    pub(crate) time_s: Vec<Num>,
    /// Depth of the most used cell.
    pub(crate) depth: Vec<Num>,
    /// Terminal voltage of a cell.
    pub(crate) cell_v: TracedView,
    /// Voltage of the main rail.
    pub(crate) rail_v: TracedView,
}

/// A voltage on the way.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct TracedView {
    /// At base load.
    pub(crate) rest: Vec<Num>,
    /// The lowest in the worst burst.
    pub(crate) lowest: Vec<Num>,
}

impl RunView {
    /// The document of one run.
    pub(crate) fn new(board: &str, profile: Option<&str>, ambient: Climate, life: &Life) -> Self {
        Self {
            board: board.to_owned(),
            profile: profile.map(str::to_owned),
            ambient_c: Num(ambient.mean().as_celsius()),
            positions: life
                .positions
                .iter()
                .map(|(k, v)| (k.clone(), v.clone()))
                .collect(),
            life_s: life.life_secs.map(Num),
            life_error_s: Num(life.error_secs),
            end: EndView::new(&life.end),
            stranded: Num(1.0 - life.end.depth),
            restart: Vec::new(),
            notice_s: None,
            watch: Vec::new(),
            mean_cell_a: Num(life.mean_cell_amps),
            ledger: life
                .ledger
                .iter()
                .map(|(line, joule)| LedgerView {
                    line: line.clone(),
                    joule: Num(*joule),
                })
                .collect(),
            ledger_error: Num(life.ledger_error),
            storage: life.shelf.as_ref().map(StorageView::new),
            calendar: CalendarView::new(life.calendar.as_ref(), ambient),
            cold_night: life.cold_night.as_ref().map(ColdNightView::new),
            trace: TraceView {
                time_s: nums(&life.trace.time_secs),
                depth: nums(&life.trace.depth),
                cell_v: TracedView::new(&life.trace.cell),
                rail_v: TracedView::new(&life.trace.rail),
            },
        }
    }
}

impl EndView {
    fn new(end: &End) -> Self {
        let drops = matches!(
            end.cause,
            Cause::BrownOut | Cause::ConverterStopped | Cause::Empty
        );
        let drop = end.shares.iter().filter(|(name, _)| name != "bypass");
        let lost = drop.filter(|(_, volts)| drops && 0.0 < *volts);
        let bypass = end.shares.iter().find(|(name, _)| name == "bypass");
        let total: f64 = lost.clone().map(|(_, volts)| volts).sum();
        Self {
            cause: end.cause.word(),
            load: end.load.clone(),
            state: end.state.clone(),
            task: end.task.clone(),
            net: end.net.clone(),
            net_v: end.net_volts.map(Num),
            cell_v: end.cell_volts.map(Num),
            depth: Num(end.depth),
            drop_v: (total > 0.0).then_some(Num(total)),
            shares: lost
                .map(|(name, volts)| (name.clone(), Num(volts / total)))
                .collect(),
            bypass_v: bypass.filter(|_| drops).map(|(_, volts)| Num(-volts)),
        }
    }
}

impl StorageView {
    fn new(shelf: &Shelf) -> Self {
        Self {
            time_s: Num(shelf.secs),
            depth: Num(shelf.depth),
            lost_j: Num(shelf.joules),
        }
    }
}

impl CalendarView {
    fn new(calendar: Option<&Calendar>, ambient: Climate) -> Option<Self> {
        let (calendar, months) = (calendar?, ambient.months()?);
        Some(Self {
            start_month: months.start + 1,
            first_failure_s: calendar.first_failure_secs.map(Num),
            below_need_s: Num(calendar.below_need_secs),
            permanent_end_s: calendar.permanent_end_secs.map(Num),
        })
    }
}

impl ColdNightView {
    fn new(night: &ColdNight) -> Self {
        Self {
            time_s: Num(night.time_secs),
            depth: Num(night.depth),
        }
    }
}

impl TracedView {
    fn new(trace: &RailTrace) -> Self {
        Self {
            rest: nums(&trace.rest_volts),
            lowest: nums(&trace.lowest_volts),
        }
    }
}
