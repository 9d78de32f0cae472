//! What is known of an ancestry as the picture takes it: the one place that reads the copies that travel. Groups of
//! breeders are no generation of their own: what is drawn is the brood that they are of.

use std::collections::BTreeMap;

use tarn_domain::lineage::{Ancestor, BroodCopy, FoundersCopy, Kin, SideCopy, group_of};
use tarn_domain::rooms::words::{Origin, Related};
use tarn_domain::streams::NodeId;

use super::sounding::{Brood, Entry, Met, Side, Sounding};

const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec"];

/// The ancestry of a brood, out of what a room knows.
pub fn sounding(of: NodeId, ancestors: &[Ancestor]) -> Sounding {
    let known: BTreeMap<NodeId, &Ancestor> =
        ancestors.iter().map(|ancestor| (ancestor.node, ancestor)).collect();
    let root = known.get(&of).and_then(|root| root.brood());
    let mut nodes = BTreeMap::new();
    for ancestor in ancestors {
        let met = match &ancestor.is {
            Kin::Brood(brood) => Met::Brood(met(brood, root, &known)),
            Kin::Founders(founders) => end(founders),
            Kin::Breeders(_) => continue,
        };
        nodes.insert(ancestor.node, met);
    }
    let parents = |met: &Met| match met {
        Met::Brood(brood) => [brood.fathers.nodes(), brood.mothers.nodes()].concat(),
        Met::End { .. } => Vec::new(),
    };
    let untold: Vec<NodeId> =
        nodes.values().flat_map(parents).filter(|node| !nodes.contains_key(node)).collect();
    for node in untold {
        nodes.insert(node, Met::End { name: "not told".into(), words: "in these records".into() });
    }
    Sounding { of, nodes }
}

fn met(brood: &BroodCopy, root: Option<&BroodCopy>, known: &BTreeMap<NodeId, &Ancestor>) -> Brood {
    let own = |of: fn(&BroodCopy) -> Option<&String>| root.and_then(of);
    let other_species = brood.species.as_ref().filter(|name| own(|b| b.species.as_ref()) != Some(name));
    let other_form = brood.form.as_ref().filter(|name| own(|b| b.form.as_ref()) != Some(name));
    let other_line = brood.line.as_ref().filter(|name| own(|b| b.line.as_ref()) != Some(name));
    let differs: Vec<String> = other_species
        .cloned()
        .into_iter()
        .chain(other_form.map(|form| format!("\u{201c}{form}\u{201d}")))
        .chain(other_line.map(|line| format!("line {line}")))
        .collect();
    Brood {
        code: brood.code.clone().unwrap_or_else(|| "no code".into()),
        month: brood.month.as_deref().map(month),
        young: brood.young.map(|young| young.to_string()),
        differs: (!differs.is_empty()).then(|| differs.join(" ")),
        cross: brood.cross,
        fathers: side(brood.sires.as_ref(), known),
        mothers: side(brood.dams.as_ref(), known),
    }
}

/// "founders: bought", "founders: wild 2017, place kept back", "a male: met before she came".
fn end(founders: &FoundersCopy) -> Met {
    if founders.unseen {
        return Met::End { name: "a male".into(), words: "met before she came".into() };
    }
    let year = founders.year.as_ref().map_or_else(String::new, |year| format!("\u{a0}{year}"));
    let origin = match founders.origin {
        Origin::Wild => format!("wild{year}, place kept back"),
        Origin::Bought => format!("bought{year}"),
        Origin::Unknown => "origin not known".into(),
    };
    let related = match founders.related {
        Related::Siblings => ", siblings",
        Related::Unrelated | Related::NotKnown => "",
    };
    Met::End { name: "founders".into(), words: format!("{origin}{related}") }
}

fn side(side: Option<&SideCopy>, known: &BTreeMap<NodeId, &Ancestor>) -> Side {
    let Some(side) = side.filter(|side| !side.of.is_empty()) else { return Side::NotKnown };
    let of = |node| group_of(node, |node| known.get(&node).copied()).id();
    let entry = |share: &tarn_domain::lineage::ShareCopy| Entry { node: of(share.node), n: share.n };
    Side::Known { draw: side.draw, of: side.of.iter().map(entry).collect() }
}

/// "May 2026" of "2026-05"; what is written otherwise stays as it is.
pub fn month(written: &str) -> String {
    let named = written.split_once('-').and_then(|(year, month)| {
        let month = month.parse::<usize>().ok()?.checked_sub(1)?;
        Some(format!("{}\u{a0}{year}", MONTHS.get(month)?))
    });
    named.unwrap_or_else(|| written.to_owned())
}

#[cfg(test)]
mod tests {
    use super::month;

    #[test]
    fn months_are_named_and_what_is_no_month_is_left() {
        assert_eq!(
            [month("2026-05"), month("2026-13"), month("spring")],
            ["May\u{a0}2026", "2026-13", "spring"]
        );
    }
}
