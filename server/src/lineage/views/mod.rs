//! Lineage in words, for the pages of rooms: what a node is called, and where a stock's fish come from. Parents are
//! told as the device saw them; nothing is computed.

mod ancestry;
pub mod brood;
pub mod groups;
pub mod published;
pub mod sounding;
mod spawnings;

use std::collections::BTreeMap;

use tarn_domain::lineage::{Ancestor, BroodCopy, Draw, Kin, SideCopy, group_of};
use tarn_domain::rooms::words::Related;
use tarn_domain::rooms::{Came, Founders, Node, StockState};
use tarn_domain::state::RoomStates;
use tarn_domain::streams::{NodeId, StockId};

use crate::platform::day::Wall;
use crate::platform::html::Link;
use crate::platform::parts::Told;
use crate::platform::words::{RunKind, Words};
use crate::rooms::views::{Beside, Names};

pub use spawnings::under_way;

/// What a brood or founders are called.
pub fn node(states: &RoomStates<'_>, node: Node) -> Words {
    let Node::Of(id) = node else { return Words::plain("not told apart") };
    let code = match states.broods.get(&id) {
        Some(brood) => brood.code.clone(),
        None => copied(states, id).and_then(|ancestor| ancestor.code().cloned()),
    };
    if let Some(code) = code {
        return Words::plain("brood ").and(RunKind::Code, code);
    }
    match founders(states, id) {
        Some(founders) => Words::plain(format!("founders, {}", origin(founders))),
        None if copied(states, id).is_some() => Words::plain("founders, from the giver\u{2019}s records"),
        None => Words::plain("a lineage that is not told here"),
    }
}

fn founders<'a>(states: &'a RoomStates<'_>, id: NodeId) -> Option<&'a Founders> {
    let mut all = states.stocks.values().filter_map(|stock| stock.founders.as_ref());
    all.find(|founders| founders.node == id)
}

fn copied<'a>(states: &'a RoomStates<'_>, id: NodeId) -> Option<&'a Ancestor> {
    let told = states.told.get(&id).copied();
    told.or_else(|| states.parcels.values().flat_map(|parcel| &parcel.ancestry).find(|copy| copy.node == id))
}

fn origin(founders: &Founders) -> String {
    match founders.origin {
        tarn_domain::rooms::words::Origin::Unknown => "origin not known".into(),
        known => known.plain().into(),
    }
}

/// Where a stock's fish come from, one paragraph each.
pub fn in_words(states: &RoomStates<'_>, id: StockId, wall: Wall) -> Vec<Told> {
    let plain = |words: Words| Told { words, link: None };
    let Some(&stock) = states.stocks.get(&id) else { return Vec::new() };
    let mut all = vec![plain(came(states, stock))];
    let own = match (&stock.founders, &stock.came) {
        (Some(founders), _) => Some(founders.node),
        (None, Some(Came::Born { brood })) => Some(*brood),
        _ => None,
    };
    let mut nodes: Vec<NodeId> = stock.numbers.rows().filter_map(|((node, _), _)| node.id()).collect();
    nodes.extend(own);
    nodes.sort_unstable();
    nodes.dedup();
    let known = states.records().known();
    all.extend(
        nodes
            .into_iter()
            .map(|id| Told { words: of_node((states, &known), id, wall), link: ancestry_link(&known, id) }),
    );
    if stock.numbers.rows().any(|((node, _), n)| node == Node::Unassigned && n > 0) {
        all.push(plain(Words::plain("Some of these fish were not told apart by brood.")));
    }
    all
}

/// The way to the page of a brood; founders have none.
fn ancestry_link(known: &BTreeMap<NodeId, Ancestor>, id: NodeId) -> Option<Link> {
    let brood = known.get(&id)?.brood()?;
    let code = brood.code.as_deref().unwrap_or("this brood");
    Some(Link { href: format!("/broods/{id}"), words: format!("Ancestry of {code}") })
}

fn came(states: &RoomStates<'_>, stock: &StockState) -> Words {
    let other = |text: &str, id: StockId| {
        let beside = Beside { node, ..Beside::default() };
        let mut words = Words::plain(text);
        words.runs.extend(Names { states, beside }.stock(id).runs);
        words.and(RunKind::Plain, ".")
    };
    match &stock.came {
        Some(Came::In { from }) => Words::plain(format!("Came in from {}.", from.plain())),
        Some(Came::Split { of }) => other("Split off ", *of),
        Some(Came::Born { .. }) => Words::plain("Bred in this room."),
        Some(Came::Parcel { .. }) => Words::plain("Came by parcel."),
        Some(Came::Established) | None => Words::plain("Here before the records began."),
    }
}

/// A room's states, and every node that it knows of.
type Known<'a> = (&'a RoomStates<'a>, &'a BTreeMap<NodeId, Ancestor>);

fn of_node((states, known): Known<'_>, id: NodeId, wall: Wall) -> Words {
    let name = node(states, Node::Of(id)).capital();
    if let Some(founders) = founders(states, id) {
        let related = match founders.related {
            Related::NotKnown => "whether they are related is not known".to_owned(),
            known => format!("{} among themselves", known.plain()),
        };
        let place =
            founders.locality.as_ref().map_or_else(String::new, |place| format!(" Caught at {place}."));
        return name.and(RunKind::Plain, format!(": {related}; their parents are not recorded.{place}"));
    }
    let Some(Kin::Brood(brood)) = known.get(&id).map(|ancestor| &ancestor.is) else {
        return name.and(RunKind::Plain, ". Their parents are not known here.");
    };
    let since = match states.broods.get(&id) {
        Some(own) => own.found.map(|at| format!(", found {}", wall.day(at.seconds()))),
        None => {
            let month = brood.month.as_ref().map_or_else(String::new, |month| format!(", of {month}"));
            Some(format!("{month}, as told by its breeder"))
        }
    };
    let cross = if brood.cross { " A cross." } else { "" };
    let words = name.and(RunKind::Plain, format!("{}.{cross} ", since.unwrap_or_default()));
    parents((states, known), words, brood)
}

fn parents(known: Known<'_>, words: Words, of: &BroodCopy) -> Words {
    let words = side(known, words, ["Father", "Fathers"], of.sires.as_ref());
    side(known, words.and(RunKind::Plain, " "), ["Mother", "Mothers"], of.dams.as_ref())
}

fn side((states, known): Known<'_>, words: Words, who: [&str; 2], parents: Option<&SideCopy>) -> Words {
    let Some(parents) = parents.filter(|parents| !parents.of.is_empty()) else {
        return words.and(RunKind::Plain, format!("{}: not known.", who[0]));
    };
    let total: u64 = parents.of.iter().map(|p| u64::from(p.n)).sum();
    let begin = match (parents.draw, total) {
        (Draw::One, 1) => format!("{}: ", who[0]),
        (Draw::One, n) => format!("{}: one of {n}, which is not known: ", who[0]),
        (Draw::Many, _) => format!("{}: ", who[1]),
    };
    let mut words = words.and(RunKind::Plain, begin);
    // groups of one brood are told together
    let mut each: Vec<(Node, u32)> = Vec::new();
    for share in &parents.of {
        let of = group_of(share.node, |node| known.get(&node));
        match each.iter_mut().find(|(node, _)| *node == of) {
            Some((_, n)) => *n = n.saturating_add(share.n),
            None => each.push((of, share.n)),
        }
    }
    for (at, (of, n)) in each.into_iter().enumerate() {
        let comma = if at == 0 { "" } else { ", " };
        let unnamed = matches!(of, Node::Of(id) if is_unnamed(known, id));
        if unnamed {
            words = words.and(RunKind::Plain, format!("{comma}a male that a female met before she came"));
            continue;
        }
        words = words.and(RunKind::Plain, format!("{comma}{n} of "));
        words.runs.extend(node(states, of).runs);
    }
    words.and(RunKind::Plain, ".")
}

/// A founder nobody saw: it is of no stock and stands for males that a female met before she came.
fn is_unnamed(known: &BTreeMap<NodeId, Ancestor>, id: NodeId) -> bool {
    matches!(known.get(&id).map(|ancestor| &ancestor.is), Some(Kin::Founders(f)) if f.unseen)
}
