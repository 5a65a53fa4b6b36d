//! A cell or a string of equal cells: two-well kinetic charge model under a Thevenin network.
//!
//! # References
//! J. F. Manwell and J. G. McGowan, "Lead acid battery storage model for hybrid energy systems",
//! Solar Energy 50 (1993); T. Kim and W. Qiao, "A hybrid battery model capable of capturing dynamic
//! circuit characteristics and nonlinear capacity effects", IEEE Trans. Energy Convers. 26 (2011).

use crate::device::Film;
use crate::numerics::math;
use crate::numerics::table::Table;
use crate::quantity::{
    Bearing, Charge, Current, Fraction, Properties, Rate, Resistance, Spread, Time, Voltage,
};

/// The part: equal cells in series in a holder.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// What each cell is.
    pub model: CellModel,
    /// Number of cells in series, at least 1.
    pub series: usize,
    /// How the cells are held.
    pub holder: Holder,
}

/// What holds and contacts the cells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holder {
    /// Contact resistance of each cell, both ends together.
    pub contact: Spread<Resistance>,
    /// What happens when a cell is put in the wrong way round.
    pub reversed: Reversal,
}

/// What a holder does with a cell put in the wrong way round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reversal {
    /// The cell makes contact with reversed polarity.
    Possible,
    /// The cell does not go in.
    Blocked,
    /// The cell goes in and touches nothing.
    NoContact,
    /// The holder shorts the cell; the circuit sees a short too.
    Short,
}

/// One cell as a data sheet and a fit describe it.
#[derive(Debug, Clone, PartialEq)]
pub struct CellModel {
    /// Chemistry as written, for messages and cautions.
    pub chemistry: String,
    /// All charge of the cell, whatever the rate.
    pub charge: Spread<Charge>,
    /// Open-circuit voltage in volts against surface depth.
    pub open_circuit: Table,
    /// Resistance in ohms against surface depth, at 20 degC and fresh.
    pub resistance: Table,
    /// The two wells; absent means all charge is at hand.
    pub wells: Option<Wells>,
    /// Polarisation branches, fast to slow.
    pub polarisation: Vec<Branch>,
    /// Charge-transfer overvoltage.
    pub activation: Option<Activation>,
    /// The passivation film on the lithium; absent means none.
    pub film: Option<Film>,
    /// How cold and heat act.
    pub temperature: Option<CellTemperature>,
    /// Growth of the resistance per second at 20 degC.
    pub ageing: Rate,
    /// Share of the charge lost per second at 20 degC.
    pub self_discharge: Rate,
    /// How long its maker lets it lie before use, where stated.
    pub shelf_life: Option<Time>,
    /// Unit-to-unit spread.
    pub spread: CellSpread,
    /// What the cell must not be asked for.
    pub limits: CellLimits,
    /// Whether the cell may be charged.
    pub charging: Charging,
    /// Whether the cell is a button or coin cell, which a child can swallow.
    pub button: bool,
}

/// Whether charging is what a cell is made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Charging {
    /// A primary cell: charging is a hazard.
    Primary,
    /// A rechargeable cell.
    Rechargeable,
}

/// Parameters of the kinetic model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wells {
    /// Share of the charge in the available well, above 0 and at most 1.
    pub available: Spread<Fraction>,
    /// Rate k of ds/dt = -k s.
    pub rate: Spread<Rate>,
}

/// One resistor-capacitor branch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Branch {
    /// Resistance of the branch as a multiple of the cell's resistance.
    pub ratio: f64,
    /// Time constant.
    pub time: Time,
}

/// Overvoltage `volts asinh(I / (2 current))`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Activation {
    /// Scale of the overvoltage.
    pub volts: Voltage,
    /// Exchange current.
    pub current: Current,
}

/// Factors at given temperatures, linear in their logarithm in between, held outside.
#[derive(Debug, Clone, PartialEq)]
pub struct CellTemperature {
    /// Temperatures in degrees Celsius, rising.
    pub celsius: Vec<f64>,
    /// Factor on the resistance, one a temperature.
    pub resistance: Vec<f64>,
    /// Factor on the rate of the wells, one a temperature.
    pub rate: Vec<f64>,
    /// Factor on each branch's ratio: one row a branch, one figure a temperature.
    pub polarisation: Vec<Vec<f64>>,
    /// Shift of the open-circuit voltage in volts, one a temperature, linear in between; empty means none.
    pub open_circuit: Vec<f64>,
}

/// One standard deviation from unit to unit, as shares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellSpread {
    /// Of the charge.
    pub charge: Fraction,
    /// Of the resistance.
    pub resistance: Fraction,
}

/// Limits that the maker states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellLimits {
    /// Largest continuous current.
    pub continuous: Option<Current>,
    /// Largest pulse current.
    pub pulse: Option<Current>,
    /// Share of the capacity that may be charged back over the whole life.
    pub reverse_charge: Option<Fraction>,
    /// Largest charging current in a single fault.
    pub reverse_current: Option<Current>,
    /// Voltage under load at which the cell counts as empty.
    pub end: Option<Voltage>,
}

impl Cell {
    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("charge", Bearing::Other, &mut self.model.charge);
        p.spread("holder.contact", Bearing::Other, &mut self.holder.contact);
        if let Some(wells) = &mut self.model.wells {
            p.spread("wells.available", Bearing::Other, &mut wells.available);
            p.spread("wells.rate", Bearing::Other, &mut wells.rate);
        }
    }
}

/// Inner state of one cell.
#[derive(Debug, Clone, PartialEq)]
pub struct CellState {
    /// Share of the charge that has been drawn.
    pub depth: f64,
    /// Imbalance of the wells, 0 at rest.
    pub imbalance: f64,
    /// Voltage of each polarisation branch.
    pub branch_volts: Vec<f64>,
    /// Growth of the resistance by age as a share, 0 when fresh.
    pub aged: f64,
    /// Share of the passivation film, 0 for a cell without one.
    pub film: f64,
}

/// Width in depth over which a cell driven past empty falls to its reversal voltage.
const REVERSAL_WIDTH: f64 = 0.02;
/// Voltage of a cell driven far past empty (common practice: some tenths of a volt to a volt below zero).
const REVERSAL_VOLTS: f64 = -0.6;

impl CellModel {
    /// A primary cell with what every cell has and nothing else: "absent means none".
    #[must_use]
    pub fn plain(charge: Spread<Charge>, open_circuit: Table, resistance: Table) -> Self {
        let none = Rate::from_per_sec(0.0);
        Self {
            chemistry: String::new(),
            charge,
            open_circuit,
            resistance,
            wells: None,
            polarisation: Vec::new(),
            activation: None,
            film: None,
            temperature: None,
            ageing: none,
            self_discharge: none,
            shelf_life: None,
            spread: CellSpread {
                charge: Fraction::from_share(0.0),
                resistance: Fraction::from_share(0.0),
            },
            limits: CellLimits {
                continuous: None,
                pulse: None,
                reverse_charge: None,
                reverse_current: None,
                end: None,
            },
            charging: Charging::Primary,
            button: false,
        }
    }

    /// A rested state at a depth, without age; it has lain so long that its film has grown.
    #[must_use]
    pub fn rested(&self, depth: f64) -> CellState {
        let branch_volts = vec![0.0; self.polarisation.len()];
        CellState {
            depth,
            imbalance: 0.0,
            branch_volts,
            aged: 0.0,
            film: if self.film.is_some() { 1.0 } else { 0.0 },
        }
    }

    /// Share of the charge in the available well, c.
    #[must_use]
    pub fn available(&self) -> f64 {
        self.wells.map_or(1.0, |w| w.available.si())
    }

    /// Surface depth x = d + (1 - c) s; the cell is empty at 1.
    #[must_use]
    pub fn surface(&self, depth: f64, imbalance: f64) -> f64 {
        depth + (1.0 - self.available()) * imbalance
    }

    /// Open-circuit voltage at a surface depth and its derivative, without the shift by temperature.
    #[must_use]
    pub fn open_circuit_volts(&self, x: f64) -> (f64, f64) {
        if x <= 1.0 {
            return self.open_circuit.value_and_slope(x);
        }
        let end = self.open_circuit.at(1.0);
        let slope = (REVERSAL_VOLTS - end) / REVERSAL_WIDTH;
        let volts = end + slope * (x - 1.0);
        if volts > REVERSAL_VOLTS {
            (volts, slope)
        } else {
            (REVERSAL_VOLTS, 0.0)
        }
    }

    /// Shift of the open-circuit voltage at a temperature, the same at every depth and in reversal.
    #[must_use]
    pub fn shift_volts(&self, celsius: f64) -> f64 {
        let temperature = self.temperature.as_ref();
        temperature.map_or(0.0, |t| t.shift_volts(celsius))
    }

    /// Resistance R0 at a surface depth, a temperature and a growth by age.
    #[must_use]
    pub fn resistance_ohms(&self, x: f64, celsius: f64, aged: f64) -> f64 {
        self.resistance.at(x) * self.resistance_factor(celsius) * (1.0 + aged)
    }

    /// Factor on the resistance at a temperature.
    #[must_use]
    pub fn resistance_factor(&self, celsius: f64) -> f64 {
        self.temperature
            .as_ref()
            .map_or(1.0, |t| t.factor(&t.resistance, celsius))
    }

    /// Ratio of branch `n` to R0 at a temperature.
    #[must_use]
    pub fn branch_ratio(&self, n: usize, celsius: f64) -> f64 {
        let factor = self.temperature.as_ref().and_then(|t| {
            let row = t.polarisation.get(n)?;
            // The row is a factor on the branch's resistance; R0 already carries its own.
            Some(t.factor(row, celsius) / t.factor(&t.resistance, celsius))
        });
        self.polarisation[n].ratio * factor.unwrap_or(1.0)
    }

    /// Rate k of the wells at a temperature, per second.
    #[must_use]
    pub fn rate_per_sec(&self, celsius: f64) -> f64 {
        let factor = self
            .temperature
            .as_ref()
            .map_or(1.0, |t| t.factor(&t.rate, celsius));
        self.wells.map_or(0.0, |w| w.rate.si()) * factor
    }

    /// Share of the charge lost per second, doubling every 10 K.
    #[must_use]
    pub fn self_discharge_per_sec(&self, celsius: f64) -> f64 {
        self.self_discharge.as_per_sec() * math::exp2((celsius - 20.0) / 10.0)
    }

    /// Growth of the resistance per second by age, doubling every 10 K.
    #[must_use]
    pub fn ageing_per_sec(&self, celsius: f64) -> f64 {
        self.ageing.as_per_sec() * math::exp2((celsius - 20.0) / 10.0)
    }

    /// Overvoltage of the charge transfer and its derivative.
    #[must_use]
    pub fn activation_volts(&self, amps: f64) -> (f64, f64) {
        self.activation.map_or((0.0, 0.0), |a| {
            let (b, scale) = (a.volts.as_volts(), 2.0 * a.current.as_amps());
            let u = amps / scale;
            (b * math::asinh(u), b / (scale * (1.0 + u * u).sqrt()))
        })
    }

    /// Terminal voltage at a discharge current, and its derivative with the current.
    #[must_use]
    pub fn terminal_volts(&self, state: &CellState, amps: f64, celsius: f64) -> (f64, f64) {
        let x = self.surface(state.depth, state.imbalance);
        let ohms = self.resistance_ohms(x, celsius, state.aged) + self.film_ohms(state.film);
        let branches: f64 = state.branch_volts.iter().sum();
        let (act, act_slope) = self.activation_volts(amps);
        let open = self.open_circuit_volts(x).0 + self.shift_volts(celsius);
        let volts = open - amps * ohms - branches - act;
        (volts, -ohms - act_slope)
    }

    /// Energy stored in the wells, exact for this model.
    ///
    /// # Formula
    /// ```text
    /// U = Q [c G(x) + (1 - c) G(z)]   z = d - c s   G(u) = integral of E from u to 1
    /// ```
    #[must_use]
    pub fn stored_joules(&self, state: &CellState) -> f64 {
        self.stored_joules_at(state.depth, state.imbalance)
    }

    /// [`Self::stored_joules`] of a depth and an imbalance.
    #[must_use]
    pub fn stored_joules_at(&self, depth: f64, imbalance: f64) -> f64 {
        let c = self.available();
        let x = self.surface(depth, imbalance);
        let z = depth - c * imbalance;
        self.charge.si() * (c * self.energy_below(x) + (1.0 - c) * self.energy_below(z))
    }

    /// G(u): integral of the open-circuit voltage from `u` to 1.
    fn energy_below(&self, u: f64) -> f64 {
        if u <= 1.0 {
            return self.open_circuit.integral(1.0) - self.open_circuit.integral(u);
        }
        let end = self.open_circuit.at(1.0);
        let slope = (REVERSAL_VOLTS - end) / REVERSAL_WIDTH;
        let ramp = (u - 1.0).min(REVERSAL_WIDTH);
        let beyond = (u - 1.0 - REVERSAL_WIDTH).max(0.0);
        -(end * ramp + slope * ramp * ramp / 2.0 + REVERSAL_VOLTS * beyond)
    }
}

impl CellTemperature {
    /// A row's factor at a temperature: linear in its logarithm between points, held outside.
    #[must_use]
    pub fn factor(&self, row: &[f64], celsius: f64) -> f64 {
        self.between(row, celsius, |from, to, share| {
            math::exp(math::ln(from) * (1.0 - share) + math::ln(to) * share)
        })
    }

    /// Shift of the open-circuit voltage: linear between points, held outside.
    fn shift_volts(&self, celsius: f64) -> f64 {
        if self.open_circuit.is_empty() {
            return 0.0;
        }
        self.between(&self.open_circuit, celsius, |from, to, share| {
            from + (to - from) * share
        })
    }

    fn between(&self, row: &[f64], celsius: f64, mix: impl Fn(f64, f64, f64) -> f64) -> f64 {
        let last = row.len().min(self.celsius.len()) - 1;
        if celsius <= self.celsius[0] {
            return row[0];
        }
        if celsius >= self.celsius[last] {
            return row[last];
        }
        let k = self
            .celsius
            .partition_point(|&t| t <= celsius)
            .clamp(1, last)
            - 1;
        let share = (celsius - self.celsius[k]) / (self.celsius[k + 1] - self.celsius[k]);
        mix(row[k], row[k + 1], share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_open_voltage_shifts_in_a_line_and_is_held_outside() {
        let charge = Spread::exactly(Charge::from_coulombs(100.0));
        let line = Table::new(&[(0.0, 3.0), (1.0, 2.0)]).expect("rising");
        let mut cell = CellModel::plain(charge, line, Table::constant(10.0));
        let cold = |cell: &CellModel| cell.terminal_volts(&cell.rested(0.5), 0.01, -10.0).0;
        let plain = cold(&cell);
        assert_eq!(cell.shift_volts(-10.0), 0.0);
        let mut temperature = CellTemperature {
            celsius: vec![-10.0, 20.0, 60.0],
            resistance: vec![1.0; 3],
            rate: vec![1.0; 3],
            polarisation: Vec::new(),
            open_circuit: Vec::new(),
        };
        cell.temperature = Some(temperature.clone());
        assert_eq!(cold(&cell), plain);
        temperature.open_circuit = vec![-0.11, 0.0, 0.05];
        cell.temperature = Some(temperature);
        for (celsius, volts) in [
            (-40.0, -0.11),
            (5.0, -0.055),
            (20.0, 0.0),
            (40.0, 0.025),
            (90.0, 0.05),
        ] {
            assert!(
                (cell.shift_volts(celsius) - volts).abs() < 1e-15,
                "{celsius}"
            );
        }
        assert!((cold(&cell) - plain + 0.11).abs() < 1e-15);
        // What is stored is that at no shift.
        assert_eq!(
            cell.stored_joules(&cell.rested(0.5)),
            100.0 * (2.5 + 2.0) / 2.0 / 2.0
        );
    }
}
