//! The waveforms of a board: its worst task where its life ends, and switching on with fresh cells.

use lastvolt_core::circuit::{Circuit, History, NoPoint, Situation};
use lastvolt_core::model::{Family, Profile};
use lastvolt_core::progress::Silent;
use lastvolt_core::review::Review;
use lastvolt_core::time::{Followed, NoWave, Occasion, Question, deepest_task, off_position};
use maud::{Markup, PreEscaped, html};

use crate::draw::waves::picture;
use crate::report::typeset::typeset;
use crate::text::number::percent;
use crate::text::told::Told;
use crate::view::{FiguresView, WaveView};

/// The waveforms of one board.
pub(crate) struct BoardWaves<'f> {
    /// The board.
    pub(crate) board: String,
    circuit: Circuit<'f>,
    shots: Vec<Shot<'f>>,
}

/// One waveform, or why there is none.
struct Shot<'f> {
    what: What,
    situation: Situation,
    occasion: Occasion<'f>,
    answer: Result<Followed, NoWave>,
}

/// What a waveform of the report shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum What {
    Burst,
    Start,
}

/// The waveforms of all boards that were reviewed.
pub(crate) fn waves<'f>(
    family: &'f Family,
    review: &Review,
    profile: Option<&'f Profile>,
) -> Vec<BoardWaves<'f>> {
    let boards = review.boards.iter();
    let each = boards.filter_map(|reviewed| {
        let names = [reviewed.board.clone()];
        let circuit = Circuit::new(family, &names).ok()?;
        let judged = profile.map(|p| p.name.as_str());
        let run = reviewed
            .lives
            .iter()
            .find(|r| r.profile.as_deref() == judged);
        let ends = run.map(|r| &r.life).filter(|l| l.life_secs.is_some());
        let depth = ends.map_or(0.0, |l| l.end.depth).clamp(0.0, 1.0);
        let usual = Situation::usual(family, &names, profile);
        let tired = Situation {
            depth,
            ..usual.clone()
        };
        let mut shots = Vec::new();
        if let Some(task) = profile.and_then(|p| deepest_task(&circuit, &tired, p)) {
            let occasion = Occasion::Tasks(vec![task]);
            shots.push(shot(&circuit, What::Burst, tired, occasion));
        }
        let off = off_position(&circuit, &usual);
        let cold = Situation {
            history: History::Cold,
            ..usual
        };
        shots.push(shot(&circuit, What::Start, cold, Occasion::Start(off)));
        Some(BoardWaves {
            board: reviewed.board.clone(),
            circuit,
            shots,
        })
    });
    each.collect()
}

fn shot<'f>(
    circuit: &Circuit<'f>,
    what: What,
    situation: Situation,
    occasion: Occasion<'f>,
) -> Shot<'f> {
    let question = Question {
        circuit,
        situation: &situation,
        cells: None,
        occasion: occasion.clone(),
        tail_ns: None,
    };
    let answer = question.follow(&Silent);
    Shot {
        what,
        situation,
        occasion,
        answer,
    }
}

impl BoardWaves<'_> {
    /// What they come to, for the document.
    pub(crate) fn view(&self) -> Vec<WaveView> {
        let shots = self.shots.iter();
        let each = shots.map(|shot| {
            let task = match &shot.occasion {
                Occasion::Tasks(tasks) => tasks.first().map(|t| t.name.clone()),
                _ => None,
            };
            WaveView {
                what: match shot.what {
                    What::Burst => "burst",
                    What::Start => "start",
                },
                task,
                situation: (&shot.situation).into(),
                figures: shot.answer.as_ref().ok().map(|f| FiguresView::new(&f.wave)),
                fails: shot.answer.as_ref().err().map(ToString::to_string),
            }
        });
        each.collect()
    }

    /// The part of a board's section.
    pub(super) fn part(&self) -> Markup {
        html! {
            @for shot in &self.shots { (self.figure(shot)) }
        }
    }

    fn figure(&self, shot: &Shot) -> Markup {
        let head = match shot.what {
            What::Burst => "A burst",
            What::Start => "Switching on",
        };
        let cells = cells_words(&self.circuit, shot);
        let followed = match &shot.answer {
            Ok(followed) => followed,
            Err(why) => {
                return html! {
                    h4 { (head) }
                    p { (typeset(&format!("This cannot be followed: {}.", no_wave_words(why)))) }
                };
            }
        };
        let told = Told {
            circuit: &self.circuit,
            occasion: &shot.occasion,
            followed,
            chosen: true,
        };
        html! {
            h4 { (head) }
            p {
                (typeset(&told.occasion_words())) " "
                @if let Some(cells) = cells { (typeset(&cells)) }
            }
            figure { (PreEscaped(picture(&told, false).draw())) }
            p { (typeset(&told.outcome().join(" "))) }
            @for hazard in told.hazards() { p { strong { (typeset(&hazard)) "." } } }
        }
    }
}

/// In which state the cells are taken.
fn cells_words(circuit: &Circuit, shot: &Shot) -> Option<String> {
    if circuit.cell_names().is_empty() {
        return None;
    }
    Some(match shot.situation.depth {
        0.0 => "The cells are fresh and rested.".to_owned(),
        depth => format!(
            "The cells are taken as rested with {} drawn, where the life ends; in use every burst \
             before this one has left its mark, and they stand lower.",
            percent(depth)
        ),
    })
}

/// Why there is no waveform, in words for a page.
pub(crate) fn no_wave_words(why: &NoWave) -> String {
    match why {
        NoWave::Point(NoPoint::NotConverged { .. }) => {
            "the circuit has no point to go on from".to_owned()
        }
        other => other.to_string(),
    }
}
