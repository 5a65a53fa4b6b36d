//! A gallery of bad files, each with every word that is said about it.

use lastvolt_input::measured::{Measured, Options};

use super::with;

/// Every problem on lines of its own: place, marked text, words, proposal.
fn told(text: &str, read: &Measured) -> String {
    let mut out = String::new();
    for p in &read.problems {
        let marked = &text[p.span.clone()];
        out.push_str(&format!(
            "{}:{} {} {}: {}\n",
            p.line,
            p.column,
            p.severity.word(),
            p.code,
            p.says
        ));
        out.push_str(&format!("  [{}] {}\n", marked.escape_debug(), p.label));
        for r in &p.related {
            out.push_str(&format!(
                "  {}:{} {}\n",
                r.place.line, r.place.column, r.label
            ));
        }
        if let Some(proposal) = &p.proposal {
            out.push_str(&format!("  help: {proposal}\n"));
        }
        if let Some(patch) = &p.patch {
            out.push_str(&format!("  patch: {patch}\n"));
        }
    }
    out
}

fn check(text: &str, expected: &str) {
    let read = with("log.csv", text, &Options::default());
    let told = told(text, &read);
    assert_eq!(told.trim_end(), expected.trim(), "\n{told}");
    assert!(read.tests.is_empty() || !read.failed());
}

#[test]
fn a_file_without_names() {
    check(
        "0,3.1,0.01\n\
         1,3.0,0.01\n",
        r#"
1:1 error no-header: the file begins with figures, a line of column names is needed above them
  [0,3.1,0.01] figures, no names
  help: put for instance `time_s,volts,amps` above them
"#,
    );
}

#[test]
fn a_file_of_something_else() {
    check(
        "colour,shape\n\
         red,round\n",
        r#"
1:1 error unknown-table: no line of column names is found; the file begins with colour, shape
  [colour,shape] not known
  help: a file of points has columns `quantity` and `value`, a log has a time, a voltage and a current such as `time_s`, `volts`, `current_mA`
"#,
    );
}

#[test]
fn a_misspelt_log() {
    check(
        "tme_s,voltge,crrent_mA\n\
         0,3,10\n",
        r#"
1:1 error unknown-table: no line of column names is found; the file begins with tme_s, voltge, crrent_mA
  [tme_s,voltge,crrent_mA] not known
  help: a file of points has columns `quantity` and `value`, a log has a time, a voltage and a current such as `time_s`, `volts`, `current_mA`; `tme_s` may be `time`, `voltge` may be `voltage`, `crrent_mA` may be `current`
"#,
    );
}

#[test]
fn a_log_without_a_current() {
    check(
        "time_s,volts,temperature\n\
         0,3.1,20\n",
        r#"
1:1 error missing-column: a log needs a column `amps`; the columns are time_s, volts, temperature
  [time_s,volts,temperature] no such column
  help: name it for instance `current_mA`, or state which column is `amps`; where the load is a resistor, state the load instead
"#,
    );
}

#[test]
fn two_voltages() {
    check(
        "time_s,Voltage (V),Cell voltage (V),amps\n\
         0,3.1,3.1,0.01\n",
        r#"
1:20 error two-columns: `Voltage (V)` and `Cell voltage (V)` may both be the column `volts`
  [Cell voltage (V)] which one?
  help: state which column is `volts`, or rename one
"#,
    );
}

#[test]
fn a_unit_that_is_none() {
    check(
        "time_s,Voltage (bar),amps\n\
         0,3.1,0.01\n",
        r#"
1:8 error unknown-unit: `bar` is no unit of a voltage (V, mV, uV, kV)
  [Voltage (bar)] unit?
  help: name the column for instance `volts`
"#,
    );
}

#[test]
fn figures_that_are_none() {
    check(
        "time_s,volts,amps\n\
         0,3.1,0.01\n\
         1,NaN,0.01\n\
         2,,0.01\n\
         3,3.0,over\n\
         4,3.0\n\
         5,3.0,0.01\n",
        r#"
3:3 error no-figure: `volts`: `NaN` is no figure
  [NaN] no figure
  help: delete the row, or write what was measured
4:3 error empty-field: `volts`: the field is empty
  [] nothing here
  help: delete the row, or write what was measured
5:7 error not-a-number: `amps`: found `over`, a number is needed
  [over] not a number
  help: delete the row, or write what was measured
6:6 error empty-field: `amps`: the field is empty
  [] nothing here
  help: delete the row, or write what was measured
"#,
    );
}

#[test]
fn many_empty_fields() {
    check(
        "time_s,volts,amps\n\
         0,,0.01\n\
         1,,0.01\n\
         2,,0.01\n\
         3,,0.01\n\
         4,,0.01\n",
        r#"
2:3 error empty-field: `volts`: the field is empty
  [] nothing here
  help: delete the row, or write what was measured
3:3 error empty-field: `volts`: the field is empty
  [] nothing here
  help: delete the row, or write what was measured
4:3 error empty-field: `volts`: the field is empty; 2 more places of this kind
  [] nothing here
  help: delete the row, or write what was measured
"#,
    );
}

#[test]
fn decimal_commas_between_commas() {
    check(
        "time_s,volts,amps\n\
         0,3,1,0,01\n\
         1,3,0,0,01\n",
        r#"
2:1 error too-many-fields: this row has 5 fields, there are 3 columns; it looks like decimal commas
  [0,3,1,0,01] too many fields
  help: write decimals with a point, or separate columns with semicolons
3:1 error too-many-fields: this row has 5 fields, there are 3 columns; it looks like decimal commas
  [1,3,0,0,01] too many fields
  help: write decimals with a point, or separate columns with semicolons
"#,
    );
}

#[test]
fn a_quoted_decimal_comma() {
    check(
        "time_s,volts,amps\n\
         0,\"3,1\",0.01\n\
         1,\"1,234.5\",0.01\n",
        r#"
2:4 error decimal-comma: `volts`: found the comma in `3,1`, decimals follow a point where commas separate columns
  [3,1] a comma
  help: write `3.1`, or separate columns with semicolons
3:4 error thousands: `volts`: `1,234.5` has commas between thousands
  [1,234.5] a comma between thousands
  help: write `1234.5`
  patch: 1234.5
"#,
    );
}

#[test]
fn points_and_commas() {
    check(
        "time_s;volts;amps\n\
         0;3,1;0,01\n\
         1;3.0;0,01\n",
        r#"
3:3 error mixed-decimals: `volts`: some numbers of this file have a decimal point, others a comma
  [3.0] unlike the rows before
  help: write all with a point
"#,
    );
}

#[test]
fn times_that_change_their_form() {
    check(
        "time,volts,amps\n\
         00:00:01,3.1,0.01\n\
         2,3.0,0.01\n",
        r#"
3:1 error time-form: `time`: this time is not `hh:mm:ss` as in the rows before
  [2] unlike the others
  help: write all times as numbers, as `hh:mm:ss`, or as `2024-05-01T12:00:00`
"#,
    );
}

#[test]
fn times_that_go_back_and_stand() {
    check(
        "time_s,volts,amps\n\
         0,3.1,0.01\n\
         10,3.0,0.01\n\
         10,3.0,0.01\n\
         5,3.0,0.01\n\
         20,2.9,0.01\n\
         30,2.9,0.01\n",
        r#"
4:1 warning time-repeated: one row repeats the time of the row above; of rows with one time the last is taken
  [10] the first of them
  help: log the time with more digits where the rows differ
5:1 error time-backwards: time goes backwards here
  [5] before the row above
  help: where a second discharge begins here, put it into a file of its own
"#,
    );
}

#[test]
fn millivolts() {
    check(
        "time_s,voltage,amps\n\
         0,3100,0.01\n\
         1,3000,0.01\n\
         2,2900,0.01\n\
         3,2800,0.01\n\
         4,2700,0.01\n",
        r#"
1:8 warning no-unit: no unit is written, volts are taken
  [voltage] no unit
  help: name the column for instance `voltage_V`
1:8 error unit-doubt: the voltage is 2900 V as read, which no cell has; it looks like mV
  [voltage] in mV?
  help: name the column `voltage_mV`
"#,
    );
}

#[test]
fn volts_named_millivolts() {
    check(
        "time_s,volts_mV,amps\n\
         0,3.1,0.01\n\
         1,3.0,0.01\n\
         2,2.9,0.01\n\
         3,2.8,0.01\n\
         4,2.7,0.01\n",
        r#"
1:8 error unit-doubt: the voltage is 2.9 mV as read, which no cell has; it looks like V
  [volts_mV] in V?
  help: name the column `voltage_V`
"#,
    );
}

#[test]
fn a_battery_of_six() {
    check(
        "time_s,volts,amps\n\
         0,9.1,0.01\n\
         1,9.0,0.01\n\
         2,8.9,0.01\n\
         3,8.8,0.01\n\
         4,8.7,0.01\n",
        r#"
1:8 error not-one-cell: the voltage is 8.9 V as read, more than one cell has
  [volts] more than 5 V
  help: log one cell, or divide by the number of cells in series
"#,
    );
}

#[test]
fn swapped_leads() {
    check(
        "time_s,volts,amps\n\
         0,-3.1,0.01\n\
         1,-3.0,0.01\n\
         2,-2.9,0.01\n\
         3,-2.8,0.01\n\
         4,-2.7,0.01\n",
        r#"
1:8 error swapped-leads: the voltage is -2.9 V as read: the leads of the logger look swapped
  [volts] below zero
  help: change the sign of the column
"#,
    );
}

#[test]
fn a_slip_and_a_cell_driven_backwards() {
    check(
        "time_s,volts,amps\n\
         0,3.1,0.01\n\
         1,31,0.01\n\
         2,2.9,0.01\n\
         3,0.2,0.01\n\
         4,-0.3,0.01\n",
        r#"
3:3 error volts-out-of-range: 31 V is no voltage of a cell
  [31] above 5 V
  help: delete the row where the logger slipped
6:3 error volts-out-of-range: -0.3 V is no voltage of a cell
  [-0.3] below zero
  help: end the log before: the cell is driven backwards from here
"#,
    );
}

#[test]
fn milliamperes() {
    check(
        "time_s,volts,amps\n\
         0,3.1,100\n\
         1000,3.0,100\n\
         2000,2.9,100\n\
         3000,2.8,100\n\
         4000,2.7,100\n",
        r#"
1:14 error charge-doubt: the current reaches 100 A and sums to 111 Ah, more than a small cell gives; it looks like mA read as A
  [amps] in mA?
  help: name the column `current_mA` where it is in mA
"#,
    );
}

#[test]
fn a_cell_that_is_never_loaded() {
    check(
        "time_s,volts,amps\n\
         0,3.1,0\n\
         1,3.0,0\n\
         2,2.9,0\n\
         3,2.8,0\n\
         4,2.7,0\n",
        r#"
1:14 error never-loaded: no current ever flows: a cell that is never loaded says nothing about what it gives
  [amps] always 0
  help: state which column is `amps`, or the load where it is a resistor
"#,
    );
}

#[test]
fn a_short_log() {
    check(
        "time_s,volts,amps\n\
         0,3.1,0.01\n\
         1,3.0,0.01\n",
        r#"
1:1 error too-few-rows: the log has 2 rows, 5 at least are needed
  [time_s,volts,amps] under this header
  help: log a whole discharge; single figures go into a file of points
"#,
    );
}

#[test]
fn a_charged_primary_cell() {
    check(
        "time_s,volts,amps\n\
         0,3.1,0.01\n\
         1000,3.0,0.01\n\
         2000,3.1,-0.005\n\
         3000,3.2,-0.005\n\
         4000,3.0,0.01\n\
         5000,2.9,0.01\n\
         6000,2.9,0.01\n",
        r#"
4:10 error charging: the cell is charged with 2.78 mAh in rows 4 to 5, and a primary cell must not be
  [-0.005] charging begins
  help: check the sign of the current; end the log before, or say that the cell is rechargeable
"#,
    );
}

#[test]
fn a_gap() {
    let mut text = "time_s,volts,amps\n".to_owned();
    for k in 0..20 {
        text.push_str(&format!("{},3.0,0.01\n", 10 * k));
    }
    text.push_str("9000,2.9,0.01\n9010,2.9,0.01\n");
    check(
        &text,
        r#"
22:1 error gap: 2.45 h pass between rows 21 and 22 while 10 mA flow; rows are usually at most 10 s apart
  [9000] after the gap
  21:1 before the gap
  help: where the cell rested, add a row with no current at the start of the rest; where nothing is known, keep only the rows before
"#,
    );
}

#[test]
fn columns_of_points() {
    check(
        "quantity,vlaue,value,note,ambiant\n\
         rest,1,3.1 V,x,20 degC\n",
        r#"
1:10 error unknown-column: unknown column `vlaue`
  [vlaue] not a known column
  help: did you mean `value`?
  patch: value
1:22 warning column-not-read: the column `note` is not read
  [note] not read
  help: known columns: maker, type, quantity, load, regime, end, ambient, at, age, loss, value, unit, source, read, confidence, use
1:27 error unknown-column: unknown column `ambiant`
  [ambiant] not a known column
  help: did you mean `ambient`?
  patch: ambient
2:1 error missing-field: `rest` needs `at`
  [rest,1,3.1 V,x,20 degC] no `at`
  help: write for instance `50 %` into the column `at`
"#,
    );
}

#[test]
fn points_without_what_they_need() {
    check(
        "quantity,load,end,at,value\n\
         service,,,,240 mAh\n\
         volts,15 kohm,,,2.9 V\n\
         volts,15 kohm,,50 %,2.9 V\n\
         rest,,,,3.1 V\n\
         pulse,,,50 %,2.9 V\n\
         pulse,10 mA,,50 %,2.9 V\n",
        r#"
2:9 error missing-field: `service` needs `load`
  [] no `load`
  help: write for instance `15 kohm` into the column `load`
2:10 error missing-field: a service needs `end`
  [] no `end`
  help: write for instance `0.9 V` into the column `end`
3:16 error missing-field: `volts` needs `at`
  [] no `at`
  help: write for instance `50 %` into the column `at`
4:15 error missing-field: a share of the service needs `end`
  [] no `end`
  help: write for instance `0.9 V` into the column `end`
5:8 error missing-field: `rest` needs `at`
  [] no `at`
  help: write for instance `50 %` into the column `at`
6:7 error missing-field: `pulse` needs `load`
  [] no `load`
  help: write for instance `10 mA for 15 s` into the column `load`
7:7 error no-span: `load`: a pulse needs its length
  [10 mA] how long?
  help: write for instance `10 mA for 15 s`
"#,
    );
}

#[test]
fn points_with_bad_figures() {
    check(
        "quantity,load,end,at,value,unit,regime\n\
         service,15 kohm,2 V,,240,mah,\n\
         service,15 kohm,2 V,,240,V,\n\
         service,15 kohm,2 V,,240,,\n\
         service,15 kohm,2 V,,500,pulses,\n\
         volts,15 kohm,,10 h,3100,V,\n\
         volts,15 kohm,,10 h,,V,\n\
         rest,,,10 h,3.1,V,\n\
         service,15 kohm,20 V,,240,mAh,\n",
        r#"
2:26 error unit-spelling: `unit`: `mah` is not how a charge is written, `mAh` is
  [mah] spelling
  help: write `mAh`
  patch: mAh
3:22 error not-a-service: `value`: `240 V` is no service, which is a time, a charge, or a number of pulses or cycles
  [240] in which unit?
  help: write one of `h`, `min`, `mAh`, `pulses`, `cycles` into the column `unit`
4:22 error not-a-service: `value`: `240` is no service, which is a time, a charge, or a number of pulses or cycles
  [240] in which unit?
  help: write one of `h`, `min`, `mAh`, `pulses`, `cycles` into the column `unit`
5:22 error nothing-repeats: `value`: pulses are counted, but neither `regime` nor steps of the load repeat
  [500] of what?
  help: write the rhythm into `regime`: `15 s each 1 min`
6:21 error out-of-range: `value`: `3100 V` is not what a voltage of a cell can be
  [3100] out of range
7:21 error empty-field: `value`: the field is empty
  [] nothing here
  help: delete the row, or write what was read
8:8 error not-a-place: `at`: a rested cell has no time on load
  [10 h] a time
  help: write the charge that was given (`80 mAh`) or a share of all charge (`50 %`)
9:17 error out-of-range: `end`: `20 V` is not what a voltage of a cell can be
  [20 V] out of range
"#,
    );
}

#[test]
fn points_with_bad_words() {
    check(
        "quantity,load,end,at,value,regime,use,read,age,ambient\n\
         serivce,15 kohm,2 V,,240 mAh,,,,,\n\
         service,15 kohm continuous,2 V,,240 mAh,,,,,\n\
         service,light,2 V,,240 mAh,,,,,\n\
         service,10 mA for 5 s,2 V,,240 mAh,,,,,\n\
         service,1 mA,2 V,,240 mAh,continuous,,,,\n\
         service,1 mA,2 V,,240 mAh,8 h each 1 day; 15 s each 1 min,,,,\n\
         service,1 mA,2 V,,240 mAh,,hold,curves,-1 year,20\n",
        r#"
2:1 error unknown-quantity: `quantity`: unknown quantity `serivce`
  [serivce] not known
  help: did you mean `service`?
  patch: service
3:17 error left-over: `load`: `continuous` follows the value, only a tolerance may
  [continuous] left over
  help: a load without a pause needs no further word
4:9 error not-a-load: `load`: `light` is not a load: a current (`100 mA`), a resistor (`15 kohm`) or a power (`330 mW`) is needed
  [light] not a load
  help: write `DEMAND`, or `DEMAND for TIME then DEMAND for TIME`
5:9 error lone-step: `load`: a single step with a time starts again at once, without a pause
  [10 mA for 5 s] what follows?
  help: take the time away, add `then rest for TIME`, or write the time into `regime`
6:27 error not-a-regime: `regime`: `continuous` is not `TIME each TIME`
  [continuous] not a regime
  help: leave `regime` empty for a load without a pause
7:43 error windows-out-of-order: `regime`: this window is open for 15 s, the one inside it opens only each 24 h
  [15 s each 1 min] does not hold the one before
  help: write the shortest period first
8:28 error unknown-word: `use`: `hold` is none of fit, held, compare
  [hold] not one of them
  help: write `held`
  patch: held
8:33 error unknown-word: `read`: `curves` is none of table, text, curve, derived, memory
  [curves] not one of them
  help: write `curve`
  patch: curve
8:40 error out-of-range: `age`: `-1 year` is not what a time of a cell can be
  [-1 year] out of range
8:48 error bare-number: `ambient`: `20` has no unit, a temperature is needed (degC, °C)
  [20] no unit
  help: write `20 degC`
  patch: 20 degC
"#,
    );
}

#[test]
fn fields_that_are_not_looked_at() {
    check(
        "quantity,load,end,at,value\n\
         rest,1 mA,2 V,50 %,3.0 V\n",
        r#"
2:6 warning field-not-read: `load` is not looked at for `rest`
  [1 mA] not read
2:11 warning field-not-read: `end` is not looked at for `rest`, a share of a rested cell is of all its charge
  [2 V] not read
"#,
    );
}

#[test]
fn a_field_too_many() {
    check(
        "quantity,load,end,value\n\
         service,15 kohm,2 V,240 mAh,page 1\n",
        r#"
2:1 error too-many-fields: this row has 5 fields, there are 4 columns
  [service,15 kohm,2 V,240 mAh,page 1] too many fields
  help: put quotes around text that holds a separator, or take out what belongs to no column
"#,
    );
}

#[test]
fn no_rows() {
    check(
        "quantity,value\n",
        r#"
1:1 error too-few-rows: the file has no rows
  [quantity,value] nothing under this header
"#,
    );
}
