//! How long boards of one design live whose cells differ: a dot each, and what most of them reach.

use lastvolt_core::model::Family;
use maud::{Markup, PreEscaped, html};

use crate::draw::dots::DotPicture;
use crate::draw::size::both;
use crate::report::board::Section;
use crate::report::typeset::typeset;
use crate::text::number::{count, duration, listed, percent};
use crate::view::{RunView, SpreadView};

/// The block of the run that is judged; nothing where no spread is stated.
pub(super) fn part(s: &Section, run: &RunView) -> Markup {
    let judged = s.input.profile.map(|p| p.name.as_str());
    let known = s.view.spread.as_ref();
    let known = known.filter(|k| run.profile.as_deref() == judged && 1 < k.lives_s.len());
    let Some(spread) = known else {
        return html! {};
    };
    html! {
        h4 { "How units of this design differ, by computation" }
        (block(&s.board.name, spread, s.input.family))
    }
}

/// The lives of units in words and as a dot each.
pub(crate) fn block(board: &str, spread: &SpreadView, family: &Family) -> Markup {
    let said = said(spread);
    let lives: Vec<f64> = spread.lives_s.iter().map(|l| l.0).collect();
    let required = family.requirement.life.map(|l| l.as_secs());
    let picture = DotPicture {
        title: format!("Computed lives of units of board {board} whose cells differ"),
        description: said.clone(),
        lives_secs: &lives,
        promise: promise(spread),
        required: required.map(|secs| {
            let words = format!("asked for: {}", duration(secs));
            (secs, typeset(&words))
        }),
    };
    html! {
        p { (said) }
        figure {
            (PreEscaped(both(|size| picture.canvas(size))))
            figcaption {
                "Dots are stacked where lives are alike. "
                (typeset(&varied(spread)))
            }
        }
    }
}

fn promise(spread: &SpreadView) -> Option<(f64, String)> {
    let (share, secs) = (spread.confidence?, spread.promise_s?);
    let words = format!("{} last {} or longer", percent(share.0), duration(secs.0));
    Some((secs.0, typeset(&words)))
}

/// The range of lives, and what most boards reach.
fn said(spread: &SpreadView) -> String {
    let lives = &spread.lives_s;
    let (Some(first), Some(last)) = (lives.first(), lives.last()) else {
        return String::new();
    };
    let mut text = format!(
        "Of {} the first ends after {} and the last after {}.",
        count(spread.units, "computed unit"),
        duration(first.0),
        if lives.len() < spread.units {
            "more than 100 years".to_owned()
        } else {
            duration(last.0)
        }
    );
    if let (Some(share), Some(secs)) = (spread.confidence, spread.promise_s) {
        text.push_str(&format!(
            " {} of them last {} or longer",
            percent(share.0),
            duration(secs.0)
        ));
        if let Some(error) = spread.standard_error_s {
            let error = duration(error.0);
            text.push_str(&format!(
                "; with as many units drawn by chance this would scatter by {error} (one standard error)"
            ));
        }
        text.push('.');
    }
    typeset(&text)
}

/// What differs from board to board.
fn varied(spread: &SpreadView) -> String {
    let each: Vec<String> = spread
        .varied
        .iter()
        .map(|v| format!("{} of {} by {}", v.quantity, v.part, percent(v.share.0)))
        .collect();
    if each.is_empty() {
        return "Nothing differs from board to board.".to_owned();
    }
    format!(
        "What differs, as one standard deviation: {}; all else is typical.",
        listed(&each)
    )
}
