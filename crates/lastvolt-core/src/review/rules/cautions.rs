//! `cautions`: the warnings that this board needs on its label and in its manual, chosen by what is
//! on it, the gravest first.
//!
//! # References
//! 16 CFR part 1263 (Reese's Law) with ANSI/UL 4200A-2023; IEC 62368-1:2018 clause 4.8; IEC
//! 60086-4:2019 and IEC 60086-5; IEC 62133-1 and 62133-2; UL 1642; UN Manual of Tests and Criteria
//! 38.3; Regulation (EU) 2023/1542. Facts of these, wording ours.

use crate::device::{Cell, Charging, Dielectric};
use crate::model::{Device, Kind, Part};
use crate::review::rules::{CAUTIONS, Rule};
use crate::review::{Evidence, Finding, RuleId, Severity};

pub(super) struct Cautions;

impl Rule for Cautions {
    fn id(&self) -> RuleId {
        // The name "cautions".
        CAUTIONS
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let mut out = Vec::new();
        let cells = e.board.parts.iter().filter(|p| p.kind == Kind::Cell);
        let set = Set {
            places: cells.count(),
        };
        for caution in LIST {
            let parts = e.board.parts.iter().filter(|p| (caution.fits)(p, &set));
            let parts: Vec<&str> = parts.map(|p| p.name.as_str()).collect();
            if !parts.is_empty() {
                out.push(finding(e, caution, &parts));
            }
        }
        out.extend(of_models(e, &out));
        if let Some(source) = e.source_name() {
            out.push(finding(e, &ESTIMATE, &[&source]));
        }
        out
    }
}

/// The place of a caution among the others, the gravest first, by the aspect of its finding.
#[must_use]
pub fn weight(aspect: &str) -> usize {
    let place = LIST.iter().position(|caution| caution.aspect == aspect);
    match aspect {
        // What a maker states of one model may be grave.
        MODEL => LIST.iter().take_while(|c| c.grave).count(),
        _ => place.map_or(LIST.len() + 1, |at| at + usize::from(!LIST[at].grave)),
    }
}

/// What the board has beside a part.
struct Set {
    /// Places for cells or strings.
    places: usize,
}

/// One warning.
struct Caution {
    aspect: &'static str,
    /// Whether it is about danger to people.
    grave: bool,
    fits: fn(&Part, &Set) -> bool,
    says: &'static str,
    remedy: &'static str,
    basis: &'static str,
}

fn cell(part: &Part) -> Option<&Cell> {
    match &part.device {
        Device::Cell(cell) => Some(cell),
        _ => None,
    }
}

/// Whether the chemistry is a lithium one: the trade writes it as `Li` or `lithium`.
fn lithium(cell: &Cell) -> bool {
    cell.model.chemistry.to_ascii_lowercase().starts_with("li")
}

fn is(part: &Part, lithium_cell: bool, charging: Charging) -> bool {
    cell(part).is_some_and(|c| lithium(c) == lithium_cell && c.model.charging == charging)
}

const LIST: &[Caution] = &[
    Caution {
        aspect: "swallowing",
        grave: true,
        fits: |part, _| cell(part).is_some_and(|c| c.model.button),
        says: "Button and coin cells kill when swallowed: they burn through the gullet within two hours. \
               Keep new and used cells away from children; if one may have been swallowed or put into the \
               body, seek medical help at once. The compartment opens with a tool or by two independent \
               movements, and not otherwise.",
        remedy: "build a compartment that opens with a tool or by two independent movements at the same \
                 time, with captive screws, and print the warning on product, package and manual",
        basis: "16 CFR 1263 with ANSI/UL 4200A-2023; IEC 62368-1:2018 clause 4.8; ISO 7010 W001",
    },
    Caution {
        aspect: "never-charge-lithium",
        grave: true,
        fits: |part, _| is(part, true, Charging::Primary),
        says: "Primary lithium cells must never be charged: they can vent, burn or burst. That includes \
               currents that another supply drives into them through this board.",
        remedy: "keep two blocking elements, or one and a limiting resistor, between the cell and any other supply",
        basis: "UL 1642 practice; IEC 60086-4:2019",
    },
    Caution {
        aspect: "charge-lithium",
        grave: true,
        fits: |part, _| is(part, true, Charging::Rechargeable),
        says: "Rechargeable lithium cells burn when overcharged, charged in the cold, shorted, crushed or \
               pierced, and a swollen or deeply emptied one must not be charged again.",
        remedy: "use cells with a protection circuit and a charger made for them; keep the cell from being \
                 bent or pierced",
        basis: "IEC 62133-2; UL 2054 for packs",
    },
    Caution {
        aspect: "fire",
        grave: true,
        fits: |part, _| part.kind == Kind::Cell,
        says: "Keep cells from fire and heat; do not short, open, crush or solder to them: they can burst, \
               burn or leak.",
        remedy: "put a fuse or PTC next to cells that can give amperes, recess the contacts so that nothing \
                 bridges them, leave room to vent, and do not seal the compartment gas-tight",
        basis: "IEC 60086-4:2019, IEC 60086-5 for primary cells; IEC 62133-1 and 62133-2 for rechargeable ones",
    },
    Caution {
        aspect: "never-charge",
        grave: true,
        fits: |part, _| is(part, false, Charging::Primary),
        says: "Primary cells must never be charged: they gas, leak and can burst. That includes currents \
               that another supply drives into them.",
        remedy: "say so on the label; keep other supplies from driving current into them",
        basis: "IEC 60086-5",
    },
    Caution {
        aspect: "charge",
        grave: true,
        fits: |part, _| is(part, false, Charging::Rechargeable),
        says: "Charge these cells only with a charger for their chemistry: overcharged ones get hot and vent.",
        remedy: "name the charger in the manual",
        basis: "IEC 62133-1 for nickel cells",
    },
    Caution {
        aspect: "charged-capacitor",
        grave: true,
        fits: |part, _| match &part.device {
            Device::Capacitor(c) => c.dielectric == Some(Dielectric::DoubleLayer),
            _ => false,
        },
        says: "A double-layer capacitor gives many amperes into a short and stays charged after the supply \
               is gone.",
        remedy: "discharge it through a resistor before work on the board; do not short it",
        basis: "common practice",
    },
    Caution {
        aspect: "do-not-mix",
        grave: false,
        fits: |part, set| cell(part).is_some_and(|c| 1 < c.series || 1 < set.places),
        says: "Replace all cells of a set together, by the same brand and type; do not mix old and new. \
               The weakest is driven into reversal and leaks.",
        remedy: "print the type and the polarity inside the compartment",
        basis: "IEC 60086-5; IEC 60086-4:2019",
    },
    Caution {
        aspect: "lithium-transport",
        grave: false,
        fits: |part, _| is(part, true, Charging::Primary),
        says: "Lithium cells are dangerous goods in transport, UN 3090 by themselves and UN 3091 in or with \
               equipment: each type needs its UN 38.3 test summary, and packages their marks.",
        remedy: "ask the cell's maker for the summary; small cells (at most 1 g of lithium each, 2 g a battery) \
                 have relief in special provision 188",
        basis: "UN Manual of Tests and Criteria, 38.3; UN 3090 and UN 3091",
    },
    Caution {
        aspect: "lithium-ion-transport",
        grave: false,
        fits: |part, _| is(part, true, Charging::Rechargeable),
        says: "Lithium-ion cells are dangerous goods in transport, UN 3480 by themselves and UN 3481 in or \
               with equipment: each type needs its UN 38.3 test summary, and packages their marks.",
        remedy: "ask the cell's maker for the summary; small cells (at most 20 Wh each, 100 Wh a battery) \
                 have relief in special provision 188",
        basis: "UN Manual of Tests and Criteria, 38.3; UN 3480 and UN 3481",
    },
    Caution {
        aspect: "disposal",
        grave: false,
        fits: |part, _| part.kind == Kind::Cell,
        says: "Used cells do not belong into household waste or fire. Take them out when flat and before \
               long storage.",
        remedy: "mark the product with the crossed-out bin and say how to remove the cells",
        basis: "Regulation (EU) 2023/1542; local rules",
    },
    Caution {
        aspect: "supply",
        grave: false,
        fits: |part, _| part.kind == Kind::Supply,
        says: "Feed this board from a supply that keeps to its safety standard and limits its power.",
        remedy: "name the supply's limits in the manual",
        basis: "IEC 62368-1:2018",
    },
];

const ESTIMATE: Caution = Caution {
    aspect: "estimate",
    grave: false,
    fits: |_, _| true,
    says: "All figures are computed estimates. They do not replace the data sheets of the parts, tests on \
           built units, local codes, the authority having jurisdiction or licensed practice.",
    remedy: "measure built units before relying on a figure",
    basis: "common practice",
};

/// Aspect of what models state.
const MODEL: &str = "model";

/// What the built-in models state of many cells, and the warning that says it already.
const SAID: &[(&str, &str)] = &[
    (
        "swallowing",
        "A swallowed button cell can cause fatal burns",
    ),
    (
        "never-charge-lithium",
        "A primary cell must never be charged",
    ),
    ("never-charge", "A primary cell must never be charged"),
    (
        "fire",
        "Lithium burns: do not short, crush, open, solder to",
    ),
    (
        "do-not-mix",
        "Do not mix cells of different make, age or charge",
    ),
    ("charge", "Charge only with a charger for NiMH;"),
];

/// What the models of parts state beyond the warnings that are there.
fn of_models(e: &Evidence, there: &[Finding]) -> Vec<Finding> {
    let mut out: Vec<Finding> = Vec::new();
    for part in &e.board.parts {
        let said = |text: &str| {
            let of_part = there.iter().filter(|f| f.parts.contains(&part.name));
            let mut aspects = of_part.map(|f| f.aspect);
            aspects.any(|a| {
                SAID.iter()
                    .any(|(of, start)| *of == a && text.starts_with(start))
            })
        };
        let own = part.origin.cautions.iter().filter(|text| !said(text));
        let own: Vec<&str> = own.map(String::as_str).collect();
        let Some(model) = part.origin.model.as_ref().filter(|_| !own.is_empty()) else {
            continue;
        };
        let basis = format!("stated with the model {model}");
        if let Some(same) = out.iter_mut().find(|f| f.basis == basis) {
            same.parts.push(part.name.clone());
            continue;
        }
        out.push(Finding {
            aspect: MODEL,
            says: format!("{model}: {}", own.join(" ")),
            remedy: "take it over into the manual as far as it concerns the user".to_owned(),
            basis,
            ..e.finding(CAUTIONS, Severity::Note, &[&part.name])
        });
    }
    out
}

fn finding(e: &Evidence, caution: &Caution, parts: &[&str]) -> Finding {
    Finding {
        aspect: caution.aspect,
        says: caution.says.to_owned(),
        remedy: caution.remedy.to_owned(),
        basis: caution.basis.to_owned(),
        ..e.finding(CAUTIONS, Severity::Note, parts)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn danger_to_people_weighs_more_than_all_else() {
        let grave = LIST.iter().filter(|c| c.grave);
        let others = LIST.iter().filter(|c| !c.grave);
        let heaviest_other = others.map(|c| weight(c.aspect)).min().expect("one");
        assert!(grave.map(|c| weight(c.aspect)).max().expect("one") < weight(MODEL));
        assert!(weight(MODEL) < heaviest_other);
        assert_eq!(weight("swallowing"), 0);
        let last = LIST.iter().map(|c| weight(c.aspect)).max().expect("one");
        assert!(last < weight(ESTIMATE.aspect));
    }
}
