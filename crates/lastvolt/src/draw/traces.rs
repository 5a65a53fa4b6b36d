//! Which voltages and currents of a waveform a picture shows, and with how many points.

use lastvolt_core::circuit::Circuit;
use lastvolt_core::model::{Board, Device};
use lastvolt_core::time::Waveform;

/// Lines of one frame at most.
pub(crate) const MOST_TRACES: usize = 4;
/// Nets that never part by more than this share of the frame are drawn once.
const SAME: f64 = 0.02;
/// Least height of a frame.
pub(crate) const LEAST_VOLTS: f64 = 0.05;
/// How many times higher a frame for all voltages may be than the one of them that moves most.
const SHARED: f64 = 3.0;
/// A supply that moves less than this share of its voltage is not worth a frame of its own.
const STEADY: f64 = 0.02;
/// One quantity over time.
pub(crate) struct Trace {
    pub(crate) name: String,
    pub(crate) points: Vec<(f64, f64)>,
}

impl Trace {
    /// What lies between two instants, with the values at both.
    pub(crate) fn within(&self, (from, to): (f64, f64)) -> Self {
        let inside = self.points.iter().filter(|p| from <= p.0 && p.0 <= to);
        let mut points: Vec<(f64, f64)> = inside.copied().collect();
        if points.first().is_none_or(|p| from < p.0) {
            points.splice(0..0, self.at(from).map(|v| (from, v)));
        }
        if points.last().is_none_or(|p| p.0 < to) {
            points.extend(self.at(to).map(|v| (to, v)));
        }
        Self {
            name: self.name.clone(),
            points,
        }
    }

    /// The value between two points; none before the first and after the last.
    fn at(&self, secs: f64) -> Option<f64> {
        let after = self.points.partition_point(|p| p.0 < secs);
        let (b, later) = *self.points.get(after)?;
        let (a, earlier) = *self.points.get(after.checked_sub(1)?)?;
        Some(earlier + (secs - a) / (b - a) * (later - earlier))
    }
}

/// The rail, and the nets at the sources where they part from it: beside it, or in a frame of their own
/// where it would be a flat line beside them.
pub(crate) fn volts(circuit: &Circuit, wave: &Waveform, (from, to): (f64, f64)) -> Vec<Vec<Trace>> {
    let mut out: Vec<Trace> = Vec::new();
    for name in wave.rail.iter().cloned().chain(source_nets(circuit, wave)) {
        let Some((_, values)) = wave.nets.iter().find(|n| n.0 == name) else {
            continue;
        };
        let new = trace(&name, wave, values, (from, to));
        let height = height(range(out.iter().chain([&new])));
        let same = |t: &Trace| {
            let apart = t.points.iter().zip(&new.points);
            let most = apart.fold(0.0, |m: f64, (a, b)| m.max((a.1 - b.1).abs()));
            most <= SAME * height
        };
        if out.len() < MOST_TRACES && !out.iter().any(same) {
            out.push(new);
        }
    }
    let moves = out.iter().map(|t| height(range([t].into_iter())));
    if height(range(out.iter())) <= SHARED * moves.fold(0.0, f64::max) || out.len() < 2 {
        return vec![out];
    }
    let sources = out.split_off(1);
    let (low, high) = range(sources.iter());
    if high - low < STEADY * high {
        return vec![out];
    }
    vec![out, sources]
}

/// Nets at the positive ends of cells and supplies.
fn source_nets(circuit: &Circuit, wave: &Waveform) -> Vec<String> {
    let boards = circuit.boards();
    let nets = circuit.parts().into_iter().filter_map(|(name, part)| {
        let source = matches!(part.device, Device::Cell(_) | Device::Supply(_));
        let plus = part.pin("plus").filter(|_| source)?.1.net?;
        let own = |b: &&&Board| b.parts.iter().any(|p| std::ptr::eq(p, part));
        let net = boards.iter().find(own)?.nets.get(plus)?.clone();
        let known = wave.nets.iter().any(|n| n.0 == net);
        Some(match name.rsplit_once('/') {
            Some((board, _)) if !known => format!("{board}/{net}"),
            _ => net,
        })
    });
    nets.collect()
}

/// The instants of a window, with one at each of its ends.
pub(crate) fn trace(name: &str, wave: &Waveform, values: &[f64], (from, to): (f64, f64)) -> Trace {
    let mut points: Vec<(f64, f64)> = Vec::new();
    if let Some(&first) = values.first().filter(|_| from < 0.0) {
        points.push((from, first));
    }
    for (&secs, &value) in wave.time_secs.iter().zip(values) {
        if secs <= to {
            points.push((secs, value));
        } else if let Some(&(before, last)) = points.last() {
            let share = (to - before) / (secs - before);
            points.push((to, last + share * (value - last)));
            break;
        }
    }
    Trace {
        name: name.to_owned(),
        points,
    }
}

pub(crate) fn range<'t>(traces: impl Iterator<Item = &'t Trace>) -> (f64, f64) {
    let values = traces.flat_map(|t| t.points.iter().map(|p| p.1));
    let (low, high) = values.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
    if low <= high { (low, high) } else { (0.0, 1.0) }
}

pub(crate) fn height((low, high): (f64, f64)) -> f64 {
    (high - low).max(LEAST_VOLTS)
}

/// At most four points for each half of a unit of width: first, lowest, highest and last.
pub(crate) fn thinned(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let column = |x: f64| (2.0 * x).floor();
    let mut out: Vec<(f64, f64)> = Vec::new();
    let mut at = 0;
    while at < points.len() {
        let own = column(points[at].0);
        let more = points[at..].iter().take_while(|p| column(p.0) == own);
        let end = at + more.count();
        if end - at <= 4 {
            out.extend(&points[at..end]);
        } else {
            let inner = at + 1..end - 1;
            let low = inner
                .clone()
                .min_by(|a, b| points[*a].1.total_cmp(&points[*b].1));
            let high = inner.max_by(|a, b| points[*a].1.total_cmp(&points[*b].1));
            let (a, b) = (low.unwrap_or(at), high.unwrap_or(at));
            out.extend([at, a.min(b), a.max(b), end - 1].map(|k| points[k]));
        }
        at = end;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thinning_keeps_what_stands_out() {
        let points: Vec<(f64, f64)> = (0..10_000)
            .map(|k| {
                let x = f64::from(k) / 100.0;
                (x, if k == 5003 { 7.0 } else { f64::from(k % 3) })
            })
            .collect();
        let thin = thinned(&points);
        assert!(thin.len() <= 4 * 201, "{}", thin.len());
        assert!(thin.contains(&(50.03, 7.0)));
        assert_eq!(thin.last(), points.last());
        assert!(thin.windows(2).all(|w| w[0].0 <= w[1].0));
    }
}
