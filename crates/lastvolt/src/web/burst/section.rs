//! The section of a page: what is followed, the picture of a stretch of it, what happens, and the values
//! at an instant.

use std::sync::Arc;

use lastvolt_core::time::{Followed, Occasion, concerns};
use maud::{Markup, PreEscaped, html};

use crate::draw::waves;
use crate::report::{no_wave_words, typeset};
use crate::text::number::percent;
use crate::text::told::Told;
use crate::web::burst::choice::{Burst, Plan, USUAL_OFF, off_word, plan, task_word};
use crate::web::burst::cursor::{readings, spoken};
use crate::web::burst::kept;
use crate::web::burst::stretch::{Stretch, instant_words};
use crate::web::server::Asked;

/// Places of the cursor from the left to the right end of the picture.
const PLACES: f64 = 1000.0;

/// What a setting shows in time.
pub(super) struct Shown<'a, 's> {
    pub(super) asked: &'a Asked<'s>,
    plan: Plan<'s>,
    followed: Arc<Followed>,
    pub(super) stretch: Stretch,
    usual: Stretch,
}

impl<'a, 's> Shown<'a, 's> {
    /// Follows what a setting asks for, and closely where it asks for a stretch of it; else why not.
    pub(super) fn new(asked: &'a Asked<'s>) -> Result<Self, String> {
        let plan = plan(asked)?;
        let followed = kept::followed(asked, &plan, None).map_err(|why| no_wave_words(&why))?;
        let usual = Stretch::whole(1.0);
        let mut shown = Self {
            asked,
            plan,
            followed,
            stretch: usual,
            usual,
        };
        let (from, to, decades) = waves::usual(&shown.told());
        shown.usual = Stretch { from, to, decades };
        shown.stretch = Stretch::stated(asked.setting.shown, shown.usual, shown.end());
        if shown.stretch != shown.usual {
            let ends = (shown.stretch.from, shown.stretch.to);
            // What is too long to be followed in short steps is shown as it was followed at first.
            if let Ok(close) = kept::followed(asked, &shown.plan, Some(ends)) {
                shown.followed = close;
            }
        }
        Ok(shown)
    }

    pub(super) fn followed(&self) -> &Followed {
        &self.followed
    }

    /// The last instant.
    pub(super) fn end(&self) -> f64 {
        self.followed()
            .wave
            .time_secs
            .last()
            .copied()
            .unwrap_or(0.0)
    }

    fn told(&self) -> Told<'_, 's> {
        Told {
            circuit: &self.asked.circuit,
            occasion: &self.plan.occasion,
            followed: &self.followed,
            chosen: self.plan.chosen,
        }
    }

    /// The place of the cursor at first: the lowest voltage where it can be seen, else the middle.
    fn first_place(&self) -> f64 {
        let told = self.told();
        let lowest = told.telling_lowest().map(|l| l.time_secs);
        let seen = |secs: &f64| (self.stretch.from..=self.stretch.to).contains(secs);
        lowest
            .filter(seen)
            .map_or(0.5, |secs| self.stretch.share(secs))
    }

    fn picture(&self) -> String {
        let told = self.told();
        let picture = if self.stretch.decades {
            waves::live(&told)
        } else {
            waves::window(&told, self.stretch.from, self.stretch.to)
        };
        picture.draw()
    }
}

/// The inside of the section.
pub(crate) fn inside(asked: &Asked) -> Markup {
    let shown = Shown::new(asked);
    html! {
        h2 #bursts-head { "Bursts" }
        (choice(asked, shown.as_ref().ok()))
        div.wave data-waved=(asked.setting.waved()) aria-busy="false" {
            @match &shown {
                Ok(shown) => (wave(shown)),
                Err(why) => p role="alert" { span.mark.stop { "no waveform" } (typeset(&sentence(why))) },
            }
        }
    }
}

fn sentence(why: &str) -> String {
    format!("This cannot be followed: {why}.")
}

/// What can be followed, as a row of choices.
fn choice(asked: &Asked, shown: Option<&Shown>) -> Markup {
    let burst = asked.setting.burst.as_ref();
    let starts = matches!(shown.map(|s| &s.plan.occasion), Some(Occasion::Start(_)));
    let starts = starts || burst == Some(&Burst::Start);
    let off = match burst {
        Some(Burst::Off(time)) => Some(time.as_str()),
        _ => None,
    };
    let time = off.unwrap_or(USUAL_OFF);
    html! {
        form.strip #burst-choice aria-label="What is followed" {
            (tasks(asked, shown))
            fieldset {
                legend { "or" }
                label.choice {
                    input id="burst:start" type="radio" name="burst" value="start" data-burst checked[starts];
                    span { "switching on" }
                }
                label.choice {
                    input id="burst:off" type="radio" name="burst" value=(off_word(time)) data-burst checked[off.is_some()];
                    span { "off for" }
                }
                input.short id="burst:off-time" type="text" value=(time) size="7" maxlength="40" autocomplete="off"
                    aria-label="For how long it is off" data-burst-off;
            }
        }
    }
}

/// The tasks of the profile, each to be followed alone or with others.
fn tasks(asked: &Asked, shown: Option<&Shown>) -> Markup {
    let profile = asked.setting.profile(asked.circuit.family());
    let all = profile.map_or(&[][..], |p| &p.tasks);
    let now: Vec<&str> = match (&asked.setting.burst, shown.map(|s| &s.plan.occasion)) {
        (Some(Burst::Tasks(names)), _) => names.iter().map(String::as_str).collect(),
        (None, Some(Occasion::Tasks(tasks))) => tasks.iter().map(|t| t.name.as_str()).collect(),
        _ => Vec::new(),
    };
    html! {
        @if !all.is_empty() {
            fieldset {
                legend { "tasks, at the same instant" }
                @for task in all {
                    label.choice {
                        input type="checkbox" id={ "burst:" (task.name) } value=(task_word(&task.name)) data-burst
                            checked[now.contains(&task.name.as_str())];
                        span { bdi { (task.name) } @if !concerns(&asked.circuit, task) { " (sets no load here)" } }
                    }
                }
            }
        }
    }
}

/// Picture, stretch, values and words.
fn wave(shown: &Shown) -> Markup {
    let told = shown.told();
    html! {
        p { (typeset(&told.occasion_words())) @if let Some(words) = cells_words(shown) { " " (typeset(&words)) } }
        (stretches(shown))
        figure #wave-picture { (PreEscaped(shown.picture())) }
        (cursor(shown))
        p { (typeset(&told.outcome().join(" "))) }
        @for hazard in told.hazards() { p { strong { (typeset(&hazard)) "." } } }
        (happenings(shown))
    }
}

/// In which state the cells are taken.
fn cells_words(shown: &Shown) -> Option<String> {
    let circuit = &shown.asked.circuit;
    let depth = shown.asked.setting.situation.depth;
    (!circuit.cell_names().is_empty()).then(|| {
        if depth == 0.0 {
            "The cells are fresh and rested.".to_owned()
        } else {
            format!("The cells are rested with {} drawn.", percent(depth))
        }
    })
}

/// Ways to other stretches: closer, wider, to both sides, from and to an instant.
fn stretches(shown: &Shown) -> Markup {
    let (now, end) = (shown.stretch, shown.end());
    let whole = Stretch::whole(end);
    let ways = [
        ("burst-closer", "+", "closer", now.closer(end)),
        (
            "burst-wider",
            "\u{2212}",
            "wider",
            if now.decades { whole } else { now.wider(end) },
        ),
        ("burst-earlier", "\u{2190}", "earlier", now.moved(-0.5, end)),
        ("burst-later", "\u{2192}", "later", now.moved(0.5, end)),
    ];
    html! {
        div.stretch role="group" aria-label="Stretch of time" {
            @for (id, sign, word, to) in ways {
                (way(shown, (id, sign, word), (!to.is(now)).then(|| to.rounded())))
            }
            (way(shown, ("burst-usual", "", "as at first"), (!now.is(shown.usual)).then_some([None, None])))
            @if !whole.is(shown.usual) {
                (way(shown, ("burst-whole", "", "all that was followed"), (!now.is(whole)).then(|| whole.rounded())))
            }
            (ends(shown))
        }
    }
}

/// A way to another stretch; words alone where it leads nowhere.
fn way(
    shown: &Shown,
    (id, sign, word): (&str, &str, &str),
    to: Option<[Option<f64>; 2]>,
) -> Markup {
    let words =
        html! { @if !sign.is_empty() { span.way-sign aria-hidden="true" { (sign) } " " } (word) };
    html! {
        @match to {
            Some(to) => a.way id=(id) data-stretch href=(shown.asked.setting.with(|s| s.shown = to).link()) { (words) },
            None => span.way id=(id) tabindex="-1" aria-disabled="true" { (words) },
        }
    }
}

/// Both ends as figures to be changed.
fn ends(shown: &Shown) -> Markup {
    let (per, unit) = unit_of(shown.stretch);
    let figure = |secs: f64| {
        let digits = (3.0 - (shown.stretch.span() / per).log10().floor()).clamp(0.0, 9.0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to a few digits"
        )]
        let digits = digits as usize;
        format!("{:.digits$}", secs / per)
    };
    html! {
        form.ends #burst-ends data-per=(per) aria-label="From and to an instant" {
            label { "from " input #burst-from type="number" step="any" value=(figure(shown.stretch.from)); }
            label { " to " input #burst-to type="number" step="any" value=(figure(shown.stretch.to)); }
            " " (unit) " "
            button #burst-show type="submit" { "Show" }
        }
    }
}

/// The unit in which instants of a stretch are written, in seconds and in words.
fn unit_of(stretch: Stretch) -> (f64, &'static str) {
    let most = stretch.from.abs().max(stretch.to.abs());
    let units = [(1.0, "s"), (1e-3, "ms"), (1e-6, "\u{b5}s")];
    units
        .into_iter()
        .find(|(per, _)| *per <= most)
        .unwrap_or((1e-9, "ns"))
}

/// The instant that is read, as a slider, and the values there.
fn cursor(shown: &Shown) -> Markup {
    let share = shown.first_place();
    let here = readings(shown, share);
    html! {
        div.cursor-row {
            label.hidden for="burst-at" { "Read at" }
            input #burst-at type="range" min="0" max=(PLACES) step="1" value=((share * PLACES).round())
                aria-valuetext=(spoken(&here));
        }
        p.quiet.keys { "Drag across the picture to look closer. With the slider: arrow keys move the instant, + and \u{2212} change the scale, comma and full stop move the stretch, 0 shows it as at first." }
        dl.figures.at #burst-values {
            @for reading in &here { div { dt { (reading.name) } dd data-at=(reading.key) { (reading.text) } } }
        }
    }
}

/// What happens when, in the stretch that is shown.
fn happenings(shown: &Shown) -> Markup {
    // No decade begins at the first instant.
    let from = if shown.stretch.decades {
        0.0
    } else {
        shown.stretch.from
    };
    let ends = (from, shown.stretch.to);
    let lines = shown.told().lines_within(ends);
    html! {
        @if !lines.is_empty() {
            h3 { "What happens" }
            ol.happens {
                @for line in &lines {
                    li { span.when { (typeset(&instant_words(line.time_secs, shown.stretch))) } " " (typeset(&line.words)) }
                }
            }
        }
    }
}
