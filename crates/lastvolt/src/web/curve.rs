//! The discharge curve of a setting: the picture along which the cells are drawn.

use lastvolt_core::circuit::{CellDrive, Situation};
use maud::{Markup, html};

use crate::report::typeset;
use crate::text::number::percent;
use crate::web::server::Asked;

/// Depths at which the curve is solved, from fresh to empty.
const DEPTHS: usize = 81;
/// Steps of the slider from fresh to empty.
const STEPS: f64 = 1000.0;

/// Voltages over depth.
struct Curve {
    depths: Vec<f64>,
    rail: Vec<f64>,
}

/// The picture with its slider.
pub(crate) fn curve_figure(asked: &Asked) -> Markup {
    let curve = solved(asked);
    let depth = asked.setting.situation.depth;
    html! {
        h2 { "From fresh to empty" }
        div.slider {
            p { (curve.depths.len()) " " (curve.rail.len()) }
            input #depth type="range" min="0" max=(STEPS) step="5" value=(depth * STEPS)
                aria-label="Share of the charge that is drawn" aria-valuetext=(typeset(&percent(depth)));
        }
    }
}

fn solved(asked: &Asked) -> Curve {
    let mut out = Curve {
        depths: Vec::new(),
        rail: Vec::new(),
    };
    let rail = asked.circuit.family().connector.rail();
    for at in 0..DEPTHS {
        #[expect(clippy::cast_precision_loss, reason = "few depths")]
        let depth = at as f64 / (DEPTHS - 1) as f64;
        let situation = Situation {
            depth,
            ..asked.setting.situation.clone()
        };
        let Ok(point) = asked.circuit.solve(&situation, &CellDrive::Rested, None) else {
            continue;
        };
        out.depths.push(depth);
        out.rail
            .push(rail.and_then(|net| point.net(net)).unwrap_or(0.0));
    }
    out
}
