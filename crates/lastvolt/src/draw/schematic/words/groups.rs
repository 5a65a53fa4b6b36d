//! What does not lie in the way of the supply: capacitors across a net, and groups of parts that hang
//! together between nets that are known by name.

use std::collections::{BTreeMap, BTreeSet};

use lastvolt_core::model::Kind;

use super::{Nets, Told};
use crate::text::number::listed;

/// Capacitors between a known net and ground, in one sentence.
pub(super) fn across(net: &Nets, main: &BTreeSet<usize>, told: &mut Told) {
    let mut of: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (at, part) in net.board.parts.iter().enumerate() {
        let mut nets = part.pins.iter().filter_map(|p| p.net);
        let (Some(a), Some(b)) = (nets.next(), nets.next()) else {
            continue;
        };
        let far = match net.ground {
            Some(ground) if a == ground => b,
            Some(ground) if b == ground => a,
            _ => continue,
        };
        if part.kind == Kind::Capacitor && main.contains(&far) {
            of.entry(far).or_default().push(at);
        }
    }
    let each = of.iter().map(|(far, parts)| {
        let names: Vec<&str> = parts.iter().map(|p| net.part(*p)).collect();
        let verb = if names.len() == 1 { "stands" } else { "stand" };
        format!("{} {verb} across {}", listed(&names), net.name(*far))
    });
    let each: Vec<String> = each.collect();
    if !each.is_empty() {
        let parts: Vec<usize> = of.values().flatten().copied().collect();
        told.say(format!("{}.", each.join("; ")), parts);
    }
}

/// The other parts: those that share an inner net are told together, with the nets that they lie between.
pub(super) fn rest(net: &Nets, main: &BTreeSet<usize>, told: &mut Told) {
    let n_parts = net.board.parts.len();
    let mut left: Vec<usize> = (0..n_parts).filter(|p| !told.parts.contains(p)).collect();
    while let Some(first) = left.first().copied() {
        let group = together(net, main, &left, first);
        left.retain(|p| !group.contains(p));
        let names: Vec<&str> = group.iter().map(|p| net.part(*p)).collect();
        let nets = group.iter().flat_map(|p| nets_of(net, *p));
        let told_of = |n: &usize| main.contains(n) || !is_inner(net, &group, *n);
        let edge: BTreeSet<usize> = nets.filter(told_of).collect();
        let edge: Vec<&str> = edge.into_iter().map(|n| net.name(n)).collect();
        let verb = if group.len() == 1 { "lies" } else { "lie" };
        let sentence = match edge.as_slice() {
            [] if group.len() == 1 => format!("{} stands alone.", listed(&names)),
            [] => format!("{} stand alone.", listed(&names)),
            [one] => format!("{} {verb} on {one}.", listed(&names)),
            edge => format!("{} {verb} between {}.", listed(&names), listed(edge)),
        };
        told.say(sentence, group);
    }
}

fn nets_of(net: &Nets, part: usize) -> Vec<usize> {
    let part = net.board.parts.get(part);
    let pins = part.into_iter().flat_map(|p| &p.pins);
    pins.filter_map(|p| p.net).collect()
}

/// Whether only parts of a group are on a net.
fn is_inner(net: &Nets, group: &BTreeSet<usize>, of: usize) -> bool {
    let parts = 0..net.board.parts.len();
    let mut others = parts.filter(|p| !group.contains(p));
    others.all(|p| !nets_of(net, p).contains(&of))
}

/// A part and those among the left ones that it reaches over nets that are not known by name.
fn together(net: &Nets, main: &BTreeSet<usize>, left: &[usize], first: usize) -> BTreeSet<usize> {
    let mut group = BTreeSet::from([first]);
    let mut open = vec![first];
    while let Some(at) = open.pop() {
        let nets = nets_of(net, at);
        let inner: Vec<usize> = nets.into_iter().filter(|n| !main.contains(n)).collect();
        for other in left {
            let shares = nets_of(net, *other).iter().any(|n| inner.contains(n));
            if shares && group.insert(*other) {
                open.push(*other);
            }
        }
    }
    group
}
