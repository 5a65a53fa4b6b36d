//! Numbers of tables: with a decimal point, or with a decimal comma where commas do not separate columns.

use super::problem::Slip;
use crate::suggest::quoted;

/// Which mark of decimals a number had.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    /// None.
    None,
    /// A point.
    Point,
    /// A comma.
    Comma,
}

/// Reads a number of a table whose columns are separated by `delimiter`.
///
/// # Errors
/// An empty field, words, no finite number, or a comma that cannot be told from thousands.
pub(super) fn number(text: &str, delimiter: u8) -> Result<(f64, Mark), Slip> {
    let body = text.trim();
    let all = || 0..text.len();
    if let Ok(value) = body.parse::<f64>() {
        if value.is_finite() {
            let point = body.contains('.');
            return Ok((value, if point { Mark::Point } else { Mark::None }));
        }
        let says = format!("{} is no figure", quoted(body));
        return Err(Slip::new("no-figure", all(), says)
            .label("no figure")
            .proposal("delete the row, or write what was measured"));
    }
    if body.is_empty() {
        return Err(Slip::new("empty-field", all(), "the field is empty")
            .label("nothing here")
            .proposal("delete the row, or write what was measured"));
    }
    if let Some((whole, part)) = body.split_once(',') {
        let fixed = body.replace(',', ".");
        let numeric = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
        let digits = whole.trim_start_matches(['+', '-']);
        match fixed.parse::<f64>() {
            Ok(value) if delimiter != b',' && !part.contains(',') && value.is_finite() => {
                return Ok((value, Mark::Comma));
            }
            _ if body.contains('.') && body.replace(',', "").parse::<f64>().is_ok() => {
                let says = format!("{} has commas between thousands", quoted(body));
                return Err(Slip::new("thousands", all(), says)
                    .label("a comma between thousands")
                    .write(&body.replace(',', "")));
            }
            Ok(_) if numeric(digits) => {
                let says = format!(
                    "found the comma in {}, decimals follow a point where commas separate columns",
                    quoted(body)
                );
                return Err(Slip::new("decimal-comma", all(), says)
                    .label("a comma")
                    .proposal(format!(
                        "write `{fixed}`, or separate columns with semicolons"
                    )));
            }
            _ => {}
        }
    }
    let says = format!("found {}, a number is needed", quoted(body));
    Err(Slip::new("not-a-number", all(), says)
        .label("not a number")
        .proposal("delete the row, or write what was measured"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_and_commas_are_read() {
        assert_eq!(number(" 3.05 ", b','), Ok((3.05, Mark::Point)));
        assert_eq!(number("-1e-3", b','), Ok((-1e-3, Mark::None)));
        assert_eq!(number("3,05", b';'), Ok((3.05, Mark::Comma)));
        assert_eq!(number("-0,5e-3", b'\t'), Ok((-0.5e-3, Mark::Comma)));
    }

    #[test]
    fn what_is_no_number_is_told_apart() {
        let code = |text: &str, delimiter| number(text, delimiter).expect_err(text).code;
        assert_eq!(code("", b','), "empty-field");
        assert_eq!(code("NaN", b','), "no-figure");
        assert_eq!(code("inf", b','), "no-figure");
        assert_eq!(code("3,05", b','), "decimal-comma");
        assert_eq!(code("1,234.5", b';'), "thousands");
        assert_eq!(code("1,2,3", b';'), "not-a-number");
        assert_eq!(code("over", b';'), "not-a-number");
    }
}
