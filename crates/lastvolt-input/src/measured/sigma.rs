//! How sure a figure is, from how it was read; the table stands at the head of the parent module.

/// How well a figure was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Grade {
    /// From a table or a text.
    Printed,
    /// Off a curve, or derived.
    Curve,
    /// With low confidence.
    Low,
    /// From memory.
    Memory,
}

/// The grade of a figure.
pub(super) fn grade(read: &str, confidence: &str) -> Grade {
    match (read, confidence) {
        ("memory", _) | (_, "memory") => Grade::Memory,
        (_, "low") => Grade::Low,
        ("curve" | "derived", _) => Grade::Curve,
        _ => Grade::Printed,
    }
}

impl Grade {
    fn pick(self, printed: f64, curve: f64, low: f64, memory: f64) -> f64 {
        match self {
            Self::Printed => printed,
            Self::Curve => curve,
            Self::Low => low,
            Self::Memory => memory,
        }
    }

    /// Of a service, as a share.
    pub(super) fn service(self) -> f64 {
        self.pick(0.02, 0.04, 0.08, 0.12)
    }

    /// Of a voltage, in volts.
    pub(super) fn volts(self) -> f64 {
        self.pick(0.010, 0.020, 0.040, 0.040)
    }

    /// Of a voltage at the end of a pulse, in volts.
    pub(super) fn pulse_volts(self) -> f64 {
        self.pick(0.015, 0.020, 0.040, 0.040)
    }

    /// Of a resistance, as a share.
    pub(super) fn resistance(self) -> f64 {
        self.pick(0.15, 0.15, 0.30, 0.30)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_weak_word_anywhere_makes_a_figure_weak() {
        assert_eq!(grade("", ""), Grade::Printed);
        assert_eq!(grade("text", "medium"), Grade::Printed);
        assert_eq!(grade("curve", "high"), Grade::Curve);
        assert_eq!(grade("table", "low"), Grade::Low);
        assert_eq!(grade("memory", "high"), Grade::Memory);
    }
}
