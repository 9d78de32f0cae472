//! What is known of an ancestry as the picture takes it: the one place that reads the copies that travel.

use std::collections::BTreeMap;

use tarn_domain::lineage::{Ancestor, Parents};
use tarn_domain::rooms::Node;
use tarn_domain::streams::NodeId;

use super::sounding::{Brood, Entry, Met, Side, Sounding};

const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec"];

/// The ancestry of a brood, out of what a room knows.
pub fn sounding(of: NodeId, ancestors: &[Ancestor]) -> Sounding {
    let root = ancestors.iter().find(|ancestor| ancestor.node == of);
    let as_kept = root.map(|root| (root.species.as_deref(), root.form.as_deref())).unwrap_or_default();
    let mut nodes: BTreeMap<NodeId, Met> =
        ancestors.iter().map(|ancestor| (ancestor.node, met(ancestor, as_kept))).collect();
    let sides = || ancestors.iter().flat_map(|ancestor| ancestor.sires.iter().chain(&ancestor.dams));
    for parent in sides().flat_map(|side| &side.of) {
        if let Node::Of(node) = parent.node {
            let untold = Met::End { name: "not told".into(), words: "in these records".into() };
            nodes.entry(node).or_insert(untold);
        }
    }
    Sounding { of, nodes }
}

fn met(ancestor: &Ancestor, (species, form): (Option<&str>, Option<&str>)) -> Met {
    let Some(code) = &ancestor.code else {
        return Met::End { name: "founders".into(), words: String::new() };
    };
    let other_species = ancestor.species.as_deref().filter(|name| species.is_some_and(|own| own != *name));
    let other_form = ancestor.form.as_deref().filter(|name| form != Some(name));
    let differs: Vec<String> = other_species
        .map(str::to_owned)
        .into_iter()
        .chain(other_form.map(|form| format!("\u{201c}{form}\u{201d}")))
        .collect();
    Met::Brood(Brood {
        code: code.clone(),
        month: ancestor.month.as_deref().map(month),
        young: None,
        differs: (!differs.is_empty()).then(|| differs.join(" ")),
        cross: false,
        fathers: side(ancestor.sires.as_ref()),
        mothers: side(ancestor.dams.as_ref()),
    })
}

fn side(parents: Option<&Parents>) -> Side {
    let Some(parents) = parents.filter(|parents| !parents.of.is_empty()) else { return Side::NotKnown };
    let entry = |parent: &tarn_domain::lineage::ParentsOf| Entry {
        node: if let Node::Of(node) = parent.node { Some(node) } else { None },
        n: parent.n,
    };
    Side::Known { draw: parents.draw, of: parents.of.iter().map(entry).collect() }
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
