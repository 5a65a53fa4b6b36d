//! `cautions`: the warnings that this board needs on its label and in its manual, chosen by what is
//! on it.
//!
//! # References
//! 16 CFR part 1263 (Reese's Law) with ANSI/UL 4200A-2023; IEC 62368-1:2018 clause 4.8; IEC
//! 60086-4:2019 and IEC 60086-5; UL 1642; UN Manual of Tests and Criteria 38.3; Regulation (EU)
//! 2023/1542. Facts of these, wording ours.

use crate::device::{Cell, Charging};
use crate::model::{Device, Kind, Part};
use crate::review::rules::Rule;
use crate::review::{Evidence, Finding, RuleId, Severity};

pub(super) struct Cautions;

impl Rule for Cautions {
    fn id(&self) -> RuleId {
        "cautions"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let mut out = Vec::new();
        let cells: Vec<(&Part, &Cell)> = e
            .board
            .parts
            .iter()
            .filter_map(|p| match &p.device {
                Device::Cell(cell) => Some((p, &**cell)),
                _ => None,
            })
            .collect();
        for caution in CAUTIONS {
            let parts: Vec<&str> = cells
                .iter()
                .filter(|(_, cell)| (caution.for_cell)(cell))
                .map(|(part, _)| part.name.as_str())
                .collect();
            if !parts.is_empty() {
                out.push(finding(e, self.id(), caution, &parts));
            }
        }
        let supply = e.board.parts.iter().find(|p| p.kind == Kind::Supply);
        if let Some(supply) = supply {
            out.push(finding(e, self.id(), &SUPPLY, &[&supply.name]));
        }
        if let Some(source) = e.source_name() {
            out.push(finding(e, self.id(), &ESTIMATE, &[&source]));
        }
        out
    }
}

/// One warning.
struct Caution {
    aspect: &'static str,
    for_cell: fn(&Cell) -> bool,
    says: &'static str,
    remedy: &'static str,
    basis: &'static str,
}

/// Whether the chemistry is a lithium one: the trade writes it as `Li` or `lithium`.
fn lithium(cell: &Cell) -> bool {
    cell.model.chemistry.to_ascii_lowercase().starts_with("li")
}

fn primary(cell: &Cell) -> bool {
    cell.model.charging == Charging::Primary
}

const CAUTIONS: &[Caution] = &[
    Caution {
        aspect: "swallowing",
        for_cell: |cell| cell.model.button,
        says: "Button and coin cells kill when swallowed: they burn through the gullet within two hours. \
               Keep new and used cells away from children; if one may have been swallowed or put into the \
               body, seek medical help at once.",
        remedy: "build a compartment that opens with a tool or by two independent movements at the same \
                 time, with captive screws, and print the warning on product, package and manual",
        basis: "16 CFR 1263 with ANSI/UL 4200A-2023; IEC 62368-1:2018 clause 4.8; ISO 7010 W001",
    },
    Caution {
        aspect: "never-charge-lithium",
        for_cell: |cell| lithium(cell) && primary(cell),
        says: "Primary lithium cells must never be charged: they can vent, burn or burst. That includes \
               currents that another supply drives into them through this board.",
        remedy: "keep two blocking elements, or one and a limiting resistor, between the cell and any other supply",
        basis: "UL 1642 practice; IEC 60086-4:2019",
    },
    Caution {
        aspect: "never-charge",
        for_cell: |cell| !lithium(cell) && primary(cell),
        says: "Primary cells must never be charged: they gas and leak.",
        remedy: "say so on the label; keep other supplies from driving current into them",
        basis: "IEC 60086-5",
    },
    Caution {
        aspect: "do-not-mix",
        for_cell: |cell| 1 < cell.series,
        says: "Replace all cells of a set together, by the same brand and type; do not mix old and new. \
               The weakest is driven into reversal and leaks.",
        remedy: "print the type and the polarity inside the compartment",
        basis: "IEC 60086-5; IEC 60086-4:2019",
    },
    Caution {
        aspect: "lithium-transport",
        for_cell: lithium,
        says: "Lithium cells are dangerous goods in transport: each type needs its UN 38.3 test summary, and \
               packages their marks.",
        remedy: "ask the cell's maker for the summary; look up the provisions for cells packed with or in equipment",
        basis: "UN Manual of Tests and Criteria, 38.3; UN 3090 and 3091",
    },
    Caution {
        aspect: "disposal",
        for_cell: |_| true,
        says: "Used cells do not belong into household waste or fire. Take them out when flat and before \
               long storage.",
        remedy: "mark the product with the crossed-out bin and say how to remove the cells",
        basis: "Regulation (EU) 2023/1542; local rules",
    },
];

const SUPPLY: Caution = Caution {
    aspect: "supply",
    for_cell: |_| false,
    says: "Feed this board from a supply that keeps to its safety standard and limits its power.",
    remedy: "name the supply's limits in the manual",
    basis: "IEC 62368-1:2018",
};

const ESTIMATE: Caution = Caution {
    aspect: "estimate",
    for_cell: |_| false,
    says: "All figures are computed estimates. They do not replace the data sheets of the parts, tests on \
           built units, local codes, the authority having jurisdiction or licensed practice.",
    remedy: "measure built units before relying on a figure",
    basis: "common practice",
};

fn finding(e: &Evidence, rule: RuleId, caution: &Caution, parts: &[&str]) -> Finding {
    Finding {
        aspect: caution.aspect,
        says: caution.says.to_owned(),
        remedy: caution.remedy.to_owned(),
        basis: caution.basis.to_owned(),
        ..e.finding(rule, Severity::Note, parts)
    }
}
