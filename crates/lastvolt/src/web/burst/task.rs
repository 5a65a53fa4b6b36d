//! A task beside the drawing: what it does, how often, and a way to its waveform.

use lastvolt_core::circuit::Circuit;
use lastvolt_core::model::Task;
use lastvolt_core::time::concerns;
use maud::{Markup, html};

use crate::report::typeset;
use crate::text::number::{duration, listed};
use crate::web::burst::choice::Burst;
use crate::web::server::Asked;

/// What a task does, and the way to its waveform.
pub(crate) fn about_task(asked: &Asked, task: &Task) -> Markup {
    html! {
        dl.figures {
            dt { "every" } dd { (span(task.every_ns)) }
            @if let Some(first) = task.offset_ns { dt { "first after" } dd { (span(first)) } }
            @if let Some(within) = task.within {
                dt { "only within" } dd { (span(within.open_ns)) ", every " (span(within.every_ns)) }
            }
        }
        h3 { "Steps" }
        ol.happens {
            @for step in &task.steps {
                li { span.when { (span(step.span_ns)) } " " bdi { (listed(&states(&step.set))) } }
            }
        }
        (way(asked, task))
    }
}

fn states(set: &[(String, String)]) -> Vec<String> {
    let each = set.iter();
    each.map(|(load, state)| format!("{load} in {state}"))
        .collect()
}

fn span(nanos: u64) -> String {
    #[expect(clippy::cast_precision_loss, reason = "nanoseconds to seconds")]
    let secs = nanos as f64 * 1e-9;
    typeset(&duration(secs))
}

fn way(asked: &Asked, task: &Task) -> Markup {
    let circuit: &Circuit = &asked.circuit;
    let setting = asked.setting.with(|s| {
        s.burst = Some(Burst::Tasks(vec![task.name.clone()]));
        s.shown = [None, None];
    });
    html! {
        @if concerns(circuit, task) {
            p { a data-follow href={ (setting.link()) "#bursts" } { "Its waveform in this setting" } }
        } @else {
            p.quiet { "It sets no load of these boards." }
        }
    }
}
