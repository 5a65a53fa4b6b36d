//! Every figure of the drawing as a table, for those who read rather than look.

use lastvolt_core::circuit::Circuit;
use maud::{Markup, html};

use crate::web::readings::{Readings, is_source};

/// Nets and parts with their figures.
pub(super) fn tables(circuit: &Circuit, readings: &Readings) -> Markup {
    let reading = |key: String| {
        let text = readings.get(&key).cloned().unwrap_or_default();
        html! { span data-reading=(key) { (text) } }
    };
    html! {
        div.pair {
            div.table tabindex="0" role="group" aria-label="Nets" {
                table {
                    caption { "Nets, against ground" }
                    thead { tr { th { "net" } th.n { "voltage" } } }
                    tbody { @for net in circuit.net_names() {
                        tr { th scope="row" { span.ref { (net) } } td.n { (reading(format!("net:{net}"))) } }
                    } }
                }
            }
            div.table tabindex="0" role="group" aria-label="Parts" {
                table {
                    caption { "Parts" }
                    thead { tr { th { "part" } th.n { "current" } th.n { "voltage" } th.n { "loss" } th { "state" } } }
                    tbody {
                        @for (name, part) in circuit.parts() {
                            tr {
                                th scope="row" { span.ref { (name) } " " span.quiet { (part.kind.word()) @if is_source(part) { ", gives" } } }
                                @for what in ["current", "voltage", "loss"] { td.n { (reading(format!("part:{name}:{what}"))) } }
                                td { (reading(format!("part:{name}:mode"))) }
                            }
                        }
                        @for (name, _) in circuit.loads() {
                            tr {
                                th scope="row" { span.ref { (name) } " " span.quiet { "load" } }
                                @for what in ["current", "voltage", "loss"] { td.n { (reading(format!("load:{name}:{what}"))) } }
                                td { (reading(format!("load:{name}:mode"))) }
                            }
                        }
                    }
                }
            }
        }
    }
}
