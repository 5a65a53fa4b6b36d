//! The voltages on the way, thinned to a number that a picture needs.

use crate::time::Trace;

/// Most samples that are kept.
const MOST_SAMPLES: usize = 240;

/// Keeps every n-th sample, n doubling whenever there are too many.
#[derive(Debug, Clone, Default)]
pub(crate) struct Sampler {
    kept: Vec<Sample>,
    /// The newest sample, which may not be kept yet.
    last: Option<Sample>,
    /// How many have been offered, and how many of them one kept sample stands for.
    offered: usize,
    stride: usize,
}

#[derive(Debug, Clone, Copy)]
struct Sample {
    secs: f64,
    depth: f64,
    /// Cell and rail at rest, then cell and rail at their lowest.
    volts: [f64; 4],
}

impl Sampler {
    /// Offers one sample.
    pub(crate) fn note(&mut self, secs: f64, depth: f64, volts: [f64; 4]) {
        if self.last.is_some_and(|last| last.secs == secs) {
            return;
        }
        let sample = Sample { secs, depth, volts };
        self.last = Some(sample);
        self.stride = self.stride.max(1);
        if self.offered.is_multiple_of(self.stride) {
            self.kept.push(sample);
        }
        self.offered += 1;
        if self.kept.len() == MOST_SAMPLES {
            let mut place = 0;
            self.kept.retain(|_| {
                place += 1;
                place % 2 == 1
            });
            self.stride *= 2;
        }
    }

    /// What was kept, the newest included.
    pub(crate) fn trace(&self) -> Trace {
        let newest = self.last.filter(|last| {
            let kept = self.kept.last();
            kept.is_none_or(|k| k.secs < last.secs)
        });
        let mut trace = Trace::default();
        for sample in self.kept.iter().copied().chain(newest) {
            trace.time_secs.push(sample.secs);
            trace.depth.push(sample.depth);
            trace.cell.rest_volts.push(sample.volts[0]);
            trace.rail.rest_volts.push(sample.volts[1]);
            trace.cell.lowest_volts.push(sample.volts[2]);
            trace.rail.lowest_volts.push(sample.volts[3]);
        }
        trace
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_samples_are_thinned_evenly_and_both_ends_stay() {
        let mut sampler = Sampler::default();
        for k in 0..10_007 {
            let t = f64::from(k);
            sampler.note(t, t, [t; 4]);
        }
        let trace = sampler.trace();
        assert!(trace.time_secs.len() <= MOST_SAMPLES);
        assert!(trace.time_secs.len() >= MOST_SAMPLES / 2);
        assert_eq!(trace.time_secs[0], 0.0);
        assert_eq!(trace.time_secs.last(), Some(&10_006.0));
        let first = trace.time_secs[1] - trace.time_secs[0];
        let evenly = trace.time_secs[..trace.time_secs.len() - 1].windows(2);
        assert!(evenly.clone().all(|w| w[1] - w[0] == first));
    }
}
