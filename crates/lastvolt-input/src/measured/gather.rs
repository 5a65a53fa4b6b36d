//! Rows into tests: what was read under one load, regime, ambient and age is one test.

use std::collections::BTreeMap;
use std::ops::Range;

use lastvolt_core::fit::{Drive, Duty, Reading, Test};
use lastvolt_core::quantity::{Charge, DAY_SECS, Time};

use super::delimiter::{Kind, find};
use super::log::{self, Log};
use super::points::{self, Point, Said};
use super::problem::{Complaint, Complaints, Slip};
use super::thin::{MOST, thin};
use super::{Fact, Measured, Minimum, Options, Origin, Role, Thinning, sound, words};
use crate::Text;
use crate::place::{Place, Spot, places};

/// Reads all files.
pub(super) fn gather(files: &[Text], options: &Options) -> Measured {
    let mut complaints = Complaints::default();
    let mut gathered = Gathered {
        files,
        options,
        measured: Measured::default(),
        spots: Vec::new(),
        known: BTreeMap::new(),
    };
    for (file, text) in files.iter().enumerate() {
        match find(file, &text.text, options) {
            Ok((Kind::Points, table)) => {
                let before = complaints.errors();
                let points = points::read(&table, options, &mut complaints);
                if points.is_empty() && before == complaints.errors() {
                    let slip = Slip::new(
                        "too-few-rows",
                        table.whole(table.header),
                        "the file has no rows",
                    )
                    .label("nothing under this header");
                    complaints.add(Complaint::error(file, slip));
                }
                for point in points {
                    gathered.point(file, point);
                }
            }
            Ok((Kind::Log, table)) => {
                let Some(mut log) = log::read(table, options, &mut complaints) else {
                    continue;
                };
                let before = complaints.errors();
                sound::check(&mut log, options, &mut complaints);
                if before == complaints.errors() {
                    gathered.log(file, &log, &mut complaints);
                }
            }
            Err(slip) => complaints.add(Complaint::error(file, slip)),
        }
    }
    let failed = complaints.errors() > 0;
    let problems = complaints.finish(files);
    if failed {
        return Measured {
            problems,
            ..Measured::default()
        };
    }
    let mut measured = gathered.finish();
    measured.problems = problems;
    measured
}

/// Where the place of something found belongs.
enum Owner {
    Origin(usize),
    Fact(usize),
    Minimum(usize),
}

struct Gathered<'a> {
    files: &'a [Text],
    options: &'a Options,
    measured: Measured,
    /// Places whose lines are worked out at the end, in one walk.
    spots: Vec<(Owner, Spot)>,
    /// Tests by what they were made under.
    known: BTreeMap<String, usize>,
}

impl Gathered<'_> {
    /// Index of a maker or sample; the name of the file where there is none.
    fn unit(&mut self, name: &str, file: usize) -> usize {
        let stated = self.options.sample.as_deref().unwrap_or("");
        let name = [name, stated, stem(&self.files[file].name)]
            .into_iter()
            .find(|name| !name.is_empty())
            .unwrap_or("");
        let units = &mut self.measured.units;
        units
            .iter()
            .position(|unit| unit == name)
            .unwrap_or_else(|| {
                units.push(name.to_owned());
                units.len() - 1
            })
    }

    fn point(&mut self, file: usize, point: Point) {
        let place = Spot::new(file, point.span.clone());
        match &point.said {
            Said::Fact => {
                let fact = Fact {
                    maker: point.field("maker").to_owned(),
                    model: point.field("type").to_owned(),
                    quantity: point.field("quantity").to_owned(),
                    value: point.field("value").to_owned(),
                    unit: point.field("unit").to_owned(),
                    source: point.field("source").to_owned(),
                    confidence: point.field("confidence").to_owned(),
                    place: unplaced(),
                };
                self.spots
                    .push((Owner::Fact(self.measured.facts.len()), place));
                self.measured.facts.push(fact);
            }
            Said::Minimum(duty, reading) => {
                let unit = self.unit(point.field("maker"), file);
                let mut test = test(&point, unit, Drive::Duty(duty.clone()));
                test.readings.push(reading.clone());
                let minimum = Minimum {
                    test,
                    source: point.field("source").to_owned(),
                    place: unplaced(),
                };
                self.spots
                    .push((Owner::Minimum(self.measured.minimums.len()), place));
                self.measured.minimums.push(minimum);
            }
            Said::Loaded(duty, reading) => {
                self.reading(file, &point, Drive::Duty(duty.clone()), reading.clone());
            }
            Said::Rested(reading) => {
                self.reading(file, &point, Drive::Rest, reading.clone());
            }
        }
    }

    fn reading(&mut self, file: usize, point: &Point, drive: Drive, reading: Reading) {
        let unit = self.unit(point.field("maker"), file);
        let key = format!(
            "{unit} {:?} {drive:?} {:?} {:?} {}",
            point.field("type"),
            point.ambient,
            point.age,
            point.loses
        );
        let tests = &mut self.measured.tests;
        let index = *self.known.entry(key).or_insert_with(|| {
            tests.push(test(point, unit, drive));
            tests.len() - 1
        });
        let readings = &mut tests[index].readings;
        readings.push(reading);
        let origin = Origin {
            test: index,
            reading: Some(readings.len() - 1),
            place: unplaced(),
            source: point.field("source").to_owned(),
            read: point.field("read").to_owned(),
            confidence: point.field("confidence").to_owned(),
            role: point.role,
        };
        self.origin(file, point.span.clone(), origin);
    }

    fn origin(&mut self, file: usize, span: Range<usize>, origin: Origin) {
        let owner = Owner::Origin(self.measured.origins.len());
        self.spots.push((owner, Spot::new(file, span)));
        self.measured.origins.push(origin);
    }

    fn log(&mut self, file: usize, log: &Log<'_>, complaints: &mut Complaints) {
        let thinned = thin(&log.rows);
        let header = log.table.whole(log.table.header);
        if thinned.one_period_in > 1 {
            let says = format!(
                "the log has more periods than {MOST} points hold: one in {} is kept whole, the others become their mean",
                thinned.one_period_in
            );
            complaints.add(Complaint::notice(
                file,
                Slip::new("periods-merged", header.clone(), says),
            ));
        } else if thinned.within_volts > 0.01 {
            let says = format!(
                "the log has more steps or noise than {MOST} points hold: rows are followed within {} only",
                words::voltage(thinned.within_volts)
            );
            let slip = Slip::new("steps-merged", header.clone(), says)
                .proposal("fit a shorter log, or average its noise before");
            complaints.add(Complaint::notice(file, slip));
        }
        let given = |w: &[log::Row]| sound::flow(&w[0], &w[1]) * (w[1].secs - w[0].secs);
        let charge: f64 = log.rows.windows(2).map(given).sum();
        let length = thinned
            .points
            .last()
            .map_or(Time::from_secs(0.0), |p| p.time);
        let unit = self.unit("", file);
        let index = self.measured.tests.len();
        self.measured.logs.push(Thinning {
            test: index,
            rows: log.rows.len(),
            points: thinned.points.len(),
            within_volts: thinned.within_volts,
            one_period_in: thinned.one_period_in,
            time: length,
            charge: Charge::from_coulombs(charge),
        });
        let name = &self.files[file].name;
        self.measured.tests.push(Test {
            name: format!("log {}", stem(name)),
            unit,
            ambient: self.options.ambient,
            age: Time::from_secs(0.0),
            loses: true,
            drive: Drive::Log(thinned.points),
            readings: Vec::new(),
        });
        let origin = Origin {
            test: index,
            reading: None,
            place: unplaced(),
            source: name.clone(),
            read: "log".to_owned(),
            confidence: String::new(),
            role: Role::Fit,
        };
        self.origin(file, header, origin);
    }

    /// Works out lines and columns, and puts origins in the order of tests and readings.
    fn finish(self) -> Measured {
        let mut measured = self.measured;
        let (owners, spots): (Vec<Owner>, Vec<Spot>) = self.spots.into_iter().unzip();
        for (owner, place) in owners.into_iter().zip(places(self.files, &spots)) {
            match owner {
                Owner::Origin(k) => measured.origins[k].place = place,
                Owner::Fact(k) => measured.facts[k].place = place,
                Owner::Minimum(k) => measured.minimums[k].place = place,
            }
        }
        measured.origins.sort_by_key(|o| (o.test, o.reading));
        measured
    }
}

fn unplaced() -> Place {
    Place {
        file: String::new(),
        line: 1,
        column: 1,
        span: 0..0,
    }
}

/// The name of a file without folders and ending.
fn stem(name: &str) -> &str {
    let name = name.rsplit(['/', '\\']).next().unwrap_or(name);
    match name.rsplit_once('.') {
        Some((stem, _)) if !stem.is_empty() => stem,
        _ => name,
    }
}

/// A test without readings, named by what it was made under.
fn test(point: &Point, unit: usize, drive: Drive) -> Test {
    let mut name = format!("{} {}", point.field("maker"), point.field("type"))
        .trim()
        .to_owned();
    let mut add = |text: &str| {
        if !text.is_empty() {
            if !name.is_empty() {
                name.push_str(", ");
            }
            name.push_str(text);
        }
    };
    match &drive {
        Drive::Duty(Duty { .. }) => {
            add(point.field("load"));
            add(point.field("regime"));
        }
        _ => add("rested"),
    }
    add(&format!(
        "{} degC",
        words::digits(point.ambient.as_celsius())
    ));
    if point.age.as_secs() >= DAY_SECS {
        add(&format!("after {}", point.field("age")));
    }
    if !point.loses {
        add("without self-discharge");
    }
    Test {
        name,
        unit,
        ambient: point.ambient,
        age: point.age,
        loses: point.loses,
        drive,
        readings: Vec::new(),
    }
}
