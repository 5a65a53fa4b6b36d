//! The answer to a changed setting: figures, words and drawings that the page puts where they belong.

use std::collections::BTreeMap;

use lastvolt_core::circuit::{CellDrive, NoPoint, Point};
use serde::Serialize;

use crate::web::held::Held;
use crate::web::page;
use crate::web::readings::{Readings, readings};
use crate::web::server::Asked;

/// What changes on the page.
#[derive(Debug, Serialize)]
pub(crate) struct Answer {
    /// The edition that it was made from.
    edition: u64,
    /// The query of the setting, in its fixed order.
    query: String,
    /// Texts by the names of readings.
    readings: Readings,
    /// Attributes by the names of elements; none takes the attribute away.
    attributes: BTreeMap<String, BTreeMap<&'static str, Option<String>>>,
    /// Insides of elements by their names.
    fragments: BTreeMap<&'static str, String>,
    /// What the drawing on the page must have been made from.
    drawn: String,
    /// What the curve on the page must have been made from.
    curve: String,
    /// What the waveform on the page must have been made from.
    waved: String,
    /// For those who listen.
    spoken: String,
}

/// Solves a setting.
pub(crate) fn solved(asked: &Asked) -> Result<Point, NoPoint> {
    asked
        .circuit
        .solve(&asked.setting.situation, &CellDrive::Rested, None)
}

/// The answer to a setting.
pub(crate) fn answer(asked: &Asked) -> Answer {
    let setting = &asked.setting;
    let point = solved(asked);
    let held = Held::new(&asked.circuit, &setting.situation, &point);
    let readings = point
        .as_ref()
        .map(|point| readings(&asked.circuit, &setting.situation, point));
    let mut fragments = BTreeMap::new();
    fragments.insert("held", held.fragment(asked).into_string());
    fragments.extend(page::chosen(asked).map(|chosen| ("chosen", chosen.into_string())));
    Answer {
        edition: asked.sound.number,
        query: setting.query(),
        readings: readings.unwrap_or_default(),
        attributes: page::attributes(asked),
        fragments,
        drawn: setting.drawn(),
        curve: setting.curve(),
        waved: setting.waved(),
        spoken: held.spoken(setting),
    }
}
