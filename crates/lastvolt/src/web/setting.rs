//! What a link states: boards, depth, temperature, positions, cells, sources, states and what is selected.
//!
//! A link may be older than the files: what it names and the family no longer has is dropped and told.

use lastvolt_core::circuit::{Circuit, History, Situation};
use lastvolt_core::model::{Device, Family, Profile};
use lastvolt_core::quantity::{Temperature, Unit};
use lastvolt_input::quantity;

use crate::text::number::listed;
use crate::web::burst::Burst;

/// What a link states; what it leaves out is usual.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Setting {
    /// The boards that are plugged together.
    pub(crate) boards: Vec<String>,
    /// All of it as one condition.
    pub(crate) situation: Situation,
    /// The ambient as the link states it.
    pub(crate) ambient: Ambient,
    /// The profile, where it is not the first.
    pub(crate) profile: Option<String>,
    /// What is looked at.
    pub(crate) chosen: Option<Chosen>,
    /// What is followed in time; none for the task that pulls the rail lowest.
    pub(crate) burst: Option<Burst>,
    /// From when to when it is shown, in seconds.
    pub(crate) shown: [Option<f64>; 2],
    usual: Situation,
}

/// The temperature around the boards, as a link states it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Ambient {
    Low,
    Usual,
    High,
    /// A temperature of its own, as written.
    Own(String),
}

/// What is looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Chosen {
    Part(String),
    Net(String),
    Load(String),
    Task(String),
    Finding(String),
}

impl Chosen {
    /// Reads what a link states.
    pub(crate) fn read(text: &str) -> Option<Self> {
        let (kind, name) = text.split_once(':')?;
        let name = name.to_owned();
        match kind {
            "part" => Some(Self::Part(name)),
            "net" => Some(Self::Net(name)),
            "load" => Some(Self::Load(name)),
            "task" => Some(Self::Task(name)),
            "finding" => Some(Self::Finding(name)),
            _ => None,
        }
    }

    /// As a link states it.
    pub(crate) fn word(&self) -> String {
        match self {
            Self::Part(name) => format!("part:{name}"),
            Self::Net(name) => format!("net:{name}"),
            Self::Load(name) => format!("load:{name}"),
            Self::Task(name) => format!("task:{name}"),
            Self::Finding(name) => format!("finding:{name}"),
        }
    }
}

impl Setting {
    /// The usual setting of boards.
    pub(crate) fn usual(family: &Family, boards: &[String], profile: Option<&Profile>) -> Self {
        let usual = Situation::usual(family, boards, profile);
        let first = family.profiles.first().map(|p| p.name.as_str());
        let profile = profile
            .map(|p| p.name.as_str())
            .filter(|p| Some(*p) != first);
        Self {
            boards: boards.to_vec(),
            situation: usual.clone(),
            ambient: Ambient::Usual,
            profile: profile.map(str::to_owned),
            chosen: None,
            burst: None,
            shown: [None, None],
            usual,
        }
    }

    /// Reads the pairs of a link, and what of it the family does not have.
    pub(crate) fn read(
        circuit: &Circuit,
        boards: &[String],
        pairs: &[(String, String)],
    ) -> (Self, Vec<String>) {
        let family = circuit.family();
        let mut dropped = Vec::new();
        let named = pairs
            .iter()
            .rev()
            .find(|(key, _)| key == "profile")
            .map(|(_, name)| name);
        let profile = named.and_then(|name| family.profile(name));
        if let Some(name) = named
            && profile.is_none()
        {
            dropped.push(format!("profile {name}"));
        }
        let mut setting = Self::usual(family, boards, profile.or(family.profiles.first()));
        for (key, value) in pairs {
            if !setting.take(circuit, key, value) {
                dropped.push(format!("{key} {value}"));
            }
        }
        (setting, dropped)
    }

    fn take(&mut self, circuit: &Circuit, key: &str, value: &str) -> bool {
        match key {
            "depth" => self.take_depth(value),
            "ambient" => self.take_ambient(circuit.family(), value),
            "set" => self.take_position(circuit, value),
            "state" => self.take_state(circuit, value),
            "reverse" => self.take_reversed(circuit, value),
            "absent" => self.take_absent(circuit, value),
            "history" => {
                self.situation.history = if value == "cold" {
                    History::Cold
                } else {
                    History::Running
                };
                matches!(value, "cold" | "running")
            }
            "select" => {
                self.chosen = Chosen::read(value).or(self.chosen.take());
                Chosen::read(value).is_some()
            }
            "burst" => self.take_burst(circuit.family(), value),
            "from" => take_secs(&mut self.shown[0], value),
            "to" => take_secs(&mut self.shown[1], value),
            // Read before all others.
            "profile" => true,
            _ => false,
        }
    }

    fn take_burst(&mut self, family: &Family, value: &str) -> bool {
        let profile = self.profile(family);
        let burst = Burst::read(value, self.burst.take(), profile);
        let known = burst.is_ok();
        self.burst = burst.unwrap_or_else(|before| before);
        known
    }

    fn take_depth(&mut self, value: &str) -> bool {
        let depth = value
            .parse::<f64>()
            .ok()
            .filter(|d| (0.0..=1.0).contains(d));
        self.situation.depth = depth.unwrap_or(self.situation.depth);
        depth.is_some()
    }

    fn take_ambient(&mut self, family: &Family, value: &str) -> bool {
        let ambient = &family.requirement.ambient;
        let (word, degrees) = match value.trim() {
            "low" => (Ambient::Low, ambient.low),
            "usual" => (Ambient::Usual, ambient.usual),
            "high" => (Ambient::High, ambient.high),
            own => match temperature(own) {
                Some(degrees) => (Ambient::Own(own.to_owned()), degrees),
                None => return false,
            },
        };
        self.ambient = word;
        self.situation.ambient = degrees;
        true
    }

    fn take_position(&mut self, circuit: &Circuit, value: &str) -> bool {
        let Some((name, position)) = value.split_once('=') else {
            return false;
        };
        let parts = circuit.parts();
        let found = parts.iter().find(|(n, _)| n == name);
        let known = match found.map(|(_, part)| &part.device) {
            Some(Device::Switch(switch)) => {
                switch.positions.iter().any(|p| p.name == position)
                    || switch.between().iter().any(|b| b == position)
            }
            _ => false,
        };
        if known {
            self.situation
                .positions
                .insert(name.to_owned(), position.to_owned());
        }
        known
    }

    fn take_state(&mut self, circuit: &Circuit, value: &str) -> bool {
        let Some((name, state)) = value.split_once('=') else {
            return false;
        };
        let loads = circuit.loads();
        let known = loads
            .iter()
            .any(|(n, load)| n == name && load.state(state).is_some());
        if known {
            self.situation
                .states
                .insert(name.to_owned(), state.to_owned());
        }
        known
    }

    fn take_reversed(&mut self, circuit: &Circuit, value: &str) -> bool {
        let parts = circuit.parts();
        let known = parts.iter().any(|(name, part)| match &part.device {
            Device::Cell(cell) => {
                name == value || (1..=cell.series).any(|n| format!("{name}.{n}") == value)
            }
            _ => false,
        });
        if known {
            self.situation.reversed.insert(value.to_owned());
        }
        known
    }

    fn take_absent(&mut self, circuit: &Circuit, value: &str) -> bool {
        let parts = circuit.parts();
        let known = parts.iter().any(|(name, part)| {
            name == value && matches!(part.device, Device::Cell(_) | Device::Supply(_))
        });
        if known {
            self.situation.absent.insert(value.to_owned());
        }
        known
    }

    /// The profile that it is about.
    pub(crate) fn profile<'f>(&self, family: &'f Family) -> Option<&'f Profile> {
        match &self.profile {
            Some(name) => family.profile(name),
            None => family.profiles.first(),
        }
    }

    /// The same with one change.
    pub(crate) fn with(&self, change: impl FnOnce(&mut Self)) -> Self {
        let mut other = self.clone();
        change(&mut other);
        other
    }

    /// Path and query of the page that shows it.
    pub(crate) fn link(&self) -> String {
        let query = self.query();
        let sign = if query.is_empty() { "" } else { "?" };
        format!("{}{sign}{query}", path(&self.boards))
    }

    /// The query, in a fixed order, without what is usual.
    pub(crate) fn query(&self) -> String {
        let mut out = form_urlencoded::Serializer::new(String::new());
        let (now, usual) = (&self.situation, &self.usual);
        if now.depth != usual.depth {
            out.append_pair("depth", &depth_words(now.depth));
        }
        match &self.ambient {
            Ambient::Low => drop(out.append_pair("ambient", "low")),
            Ambient::High => drop(out.append_pair("ambient", "high")),
            Ambient::Own(text) => drop(out.append_pair("ambient", text)),
            Ambient::Usual => {}
        }
        for (name, position) in &now.positions {
            if usual.positions.get(name) != Some(position) {
                out.append_pair("set", &format!("{name}={position}"));
            }
        }
        for name in &now.reversed {
            out.append_pair("reverse", name);
        }
        for name in &now.absent {
            out.append_pair("absent", name);
        }
        for (name, state) in &now.states {
            if usual.states.get(name) != Some(state) {
                out.append_pair("state", &format!("{name}={state}"));
            }
        }
        if let Some(profile) = &self.profile {
            out.append_pair("profile", profile);
        }
        if now.history == History::Cold {
            out.append_pair("history", "cold");
        }
        if let Some(chosen) = &self.chosen {
            out.append_pair("select", &chosen.word());
        }
        for word in self.burst.iter().flat_map(Burst::words) {
            out.append_pair("burst", &word);
        }
        for (key, secs) in ["from", "to"].into_iter().zip(self.shown) {
            if let Some(secs) = secs {
                out.append_pair(key, &secs.to_string());
            }
        }
        out.finish()
    }

    /// What of a drawing it decides: all but depth and temperature.
    pub(crate) fn drawn(&self) -> String {
        let plain = self.with(|s| {
            s.situation.depth = s.usual.depth;
            s.burst = None;
            s.shown = [None, None];
            s.ambient = Ambient::Usual;
            s.profile = None;
            s.situation.history = History::Running;
            s.situation.states.clone_from(&s.usual.states);
            // The page itself marks what is selected.
            s.chosen = None;
        });
        plain.query()
    }

    /// What of the discharge curve it decides: all but depth and what is selected.
    pub(crate) fn curve(&self) -> String {
        let plain = self.with(|s| {
            s.situation.depth = s.usual.depth;
            s.chosen = None;
            s.burst = None;
            s.shown = [None, None];
        });
        plain.query()
    }

    /// What of the waveform it decides: all but what is selected.
    pub(crate) fn waved(&self) -> String {
        self.with(|s| s.chosen = None).query()
    }
}

/// Path of the page of boards.
pub(crate) fn path(boards: &[String]) -> String {
    let encode = |name: &String| {
        percent_encoding::utf8_percent_encode(name, percent_encoding::NON_ALPHANUMERIC).to_string()
    };
    let names: Vec<String> = boards.iter().map(encode).collect();
    match names.as_slice() {
        [one] => format!("/board/{one}"),
        several => format!("/stack/{}", several.join("+")),
    }
}

/// A depth as links have it: to a hundredth of a percent.
pub(crate) fn depth_words(depth: f64) -> String {
    let text = format!("{depth:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    text.to_owned()
}

/// An instant in seconds, within a century of the beginning.
fn take_secs(into: &mut Option<f64>, value: &str) -> bool {
    const CENTURY_SECS: f64 = 3.2e9;
    let secs = value.parse::<f64>().ok();
    let secs = secs.filter(|s| s.is_finite() && s.abs() < CENTURY_SECS);
    *into = secs.or(*into);
    secs.is_some()
}

/// A temperature with its unit, in the range that circuits can be asked about.
fn temperature(text: &str) -> Option<Temperature> {
    let reading = quantity::parse(text, Unit::Celsius).ok()?;
    let degrees = reading.value;
    let sane = reading.limits.is_none() && (-100.0..=200.0).contains(&degrees);
    sane.then(|| Temperature::from_celsius(degrees))
}

/// What a link names and the family does not have, in a sentence.
pub(crate) fn dropped_words(dropped: &[String]) -> Option<String> {
    (!dropped.is_empty()).then(|| {
        format!(
            "The link names what this family does not have; left out: {}.",
            listed(dropped)
        )
    })
}
