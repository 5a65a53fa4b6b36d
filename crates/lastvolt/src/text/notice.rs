//! What firmware could watch to warn in time, as text: a sentence, then a table.

use lastvolt_core::model::Family;
use lastvolt_core::quantity::Unit;

use crate::text::number::{celsius, duration, figure, solved};
use crate::text::table::{Align, Table};
use crate::text::{push_lines, push_wrapped};
use crate::view::{Num, RunView, WatchView};

/// The block of a run; nothing where no notice is asked for or the run is not at the usual ambient.
pub(crate) fn push_notice(out: &mut String, run: &RunView, family: &Family) {
    let Some(sentence) = sentence(run, family) else {
        return;
    };
    out.push('\n');
    push_wrapped(out, "  ", &sentence);
    if !run.watch.is_empty() {
        push_lines(out, &table(run, family).lines(2));
    }
}

/// Which voltage to watch, and what the same threshold does in cold and heat.
pub(crate) fn sentence(run: &RunView, family: &Family) -> Option<String> {
    let wanted = duration(family.requirement.notice?.as_secs());
    let life = run.life_s?.0;
    if run.ambient_c.0 != family.requirement.ambient.usual.as_celsius() {
        return None;
    }
    if run.watch.is_empty() {
        return Some(format!(
            "A warning {wanted} before the end is asked for, and the life lasts {} in all.",
            duration(life)
        ));
    }
    let Some(best) = run.watch.iter().find(|w| w.best) else {
        return Some(format!(
            "No voltage of this board tells {wanted} before the end. Count the charge or the \
             bursts instead."
        ));
    };
    let had = best.notice_usual_s.map_or(0.0, |n| n.0);
    let gives = if had < 0.98 * family.requirement.notice?.as_secs() {
        format!(
            "which gives {} of the {wanted} asked for",
            notice_words(Some(Num(had)))
        )
    } else {
        format!("which gives the {wanted} asked for")
    };
    Some(format!(
        "Warn when {} {} falls below {}, {gives}; the same threshold gives {} at {} and {} at {}.",
        best.net,
        when_words(best),
        figure(best.threshold_v.0, Unit::Volt),
        notice_words(best.notice_low_s),
        celsius(family.requirement.ambient.low.as_celsius()),
        notice_words(best.notice_high_s),
        celsius(family.requirement.ambient.high.as_celsius()),
    ))
}

/// When a signal is looked at.
pub(crate) fn when_words(watch: &WatchView) -> &'static str {
    if watch.name.ends_with("at-rest") {
        "at rest"
    } else {
        "in its lowest burst"
    }
}

/// A notice: a time, or that there is none.
pub(crate) fn notice_words(notice: Option<Num>) -> String {
    match notice {
        None => "no end".to_owned(),
        Some(secs) if secs.0 <= 0.0 => "no warning".to_owned(),
        Some(secs) => duration(secs.0),
    }
}

/// Thresholds that would be right in cold and in heat.
pub(crate) fn needed_words(watch: &WatchView) -> String {
    let volts = |v: Option<Num>| v.map_or_else(|| "none".to_owned(), |v| solved(v.0, Unit::Volt));
    format!(
        "{} / {}",
        volts(watch.needed_low_v),
        volts(watch.needed_high_v)
    )
}

fn table(run: &RunView, family: &Family) -> Table {
    let ambient = &family.requirement.ambient;
    let heads = [ambient.low, ambient.usual, ambient.high].map(|a| celsius(a.as_celsius()));
    let mut table = Table::new(&[
        ("watch", Align::Left),
        ("below", Align::Right),
        (&heads[0], Align::Right),
        (&heads[1], Align::Right),
        (&heads[2], Align::Right),
        ("remarks", Align::Left),
    ]);
    for watch in &run.watch {
        let [low, usual, high] = [
            watch.notice_low_s,
            watch.notice_usual_s,
            watch.notice_high_s,
        ];
        let told = |notice| {
            if watch.tells {
                notice_words(notice)
            } else {
                String::new()
            }
        };
        table.row([
            format!("{} {}", watch.net, when_words(watch)),
            solved(watch.threshold_v.0, Unit::Volt),
            told(low),
            told(usual),
            told(high),
            watch.says.clone(),
        ]);
    }
    table
}
