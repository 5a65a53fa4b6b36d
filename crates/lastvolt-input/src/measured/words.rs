//! Figures for messages: three digits with the unit that a person would choose.

/// A time.
pub(super) fn time(secs: f64) -> String {
    let (factor, unit) = match secs.abs() {
        s if s < 0.1 && s != 0.0 => (1e-3, "ms"),
        s if s < 120.0 => (1.0, "s"),
        s if s < 7200.0 => (60.0, "min"),
        s if s < 200.0 * 3600.0 => (3600.0, "h"),
        _ => (86_400.0, "days"),
    };
    format!("{} {unit}", digits(secs / factor))
}

/// A current.
pub(super) fn current(amps: f64) -> String {
    let (factor, unit) = match amps.abs() {
        a if a < 1e-3 => (1e-6, "uA"),
        a if a < 1.0 => (1e-3, "mA"),
        _ => (1.0, "A"),
    };
    format!("{} {unit}", digits(amps / factor))
}

/// A charge.
pub(super) fn charge(coulombs: f64) -> String {
    let hours = coulombs / 3600.0;
    let (factor, unit) = match hours.abs() {
        h if h < 1e-3 => (1e-6, "uAh"),
        h if h < 10.0 => (1e-3, "mAh"),
        _ => (1.0, "Ah"),
    };
    format!("{} {unit}", digits(hours / factor))
}

/// A voltage.
pub(super) fn voltage(volts: f64) -> String {
    if volts.abs() < 0.1 {
        format!("{} mV", digits(volts * 1e3))
    } else {
        format!("{} V", digits(volts))
    }
}

/// Three digits, or the whole part where it has more; no zeros behind the point.
pub(super) fn digits(value: f64) -> String {
    let magnitude = value.abs();
    let decimals = match magnitude {
        m if m >= 99.95 => 0,
        m if m >= 9.995 => 1,
        m if m >= 0.9995 => 2,
        _ => 3,
    };
    if magnitude >= 1e9 {
        return format!("{value:.2e}");
    }
    let text = format!("{value:.decimals$}");
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => &text,
    };
    if text == "-0" { "0" } else { text }.to_owned()
}

/// A number of things.
pub(super) fn count(n: usize, one: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {one}s")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_three_digits_and_a_fitting_unit() {
        assert_eq!(time(11_520.0), "3.2 h");
        assert_eq!(time(10.0), "10 s");
        assert_eq!(time(0.05), "50 ms");
        assert_eq!(time(90_000.0 * 60.0), "62.5 days");
        assert_eq!(current(0.015), "15 mA");
        assert_eq!(current(-2.5e-6), "-2.5 uA");
        assert_eq!(charge(852.0), "237 mAh");
        assert_eq!(voltage(3012.4), "3012 V");
        assert_eq!(voltage(-0.0001), "-0.1 mV");
        assert_eq!(digits(0.0), "0");
        assert_eq!(count(2, "row"), "2 rows");
    }
}
