//! Lineage in words, for the pages of rooms: what a node is called, and where a stock's fish come from. Parents are
//! told as the device saw them; nothing is computed.

mod ancestry;
pub mod brood;
pub mod sounding;
mod spawnings;

use tarn_domain::lineage::{Ancestor, Draw, Parents, of_brood};
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
        None => copied(states, id).and_then(|ancestor| ancestor.code.clone()),
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
    states.parcels.values().flat_map(|parcel| &parcel.ancestry).find(|ancestor| ancestor.node == id)
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
    let mut nodes: Vec<NodeId> = stock
        .numbers
        .rows()
        .filter_map(|((node, _), _)| if let Node::Of(node) = node { Some(node) } else { None })
        .collect();
    nodes.extend(own);
    nodes.sort_unstable();
    nodes.dedup();
    all.extend(
        nodes
            .into_iter()
            .map(|id| Told { words: of_node(states, id, wall), link: ancestry_link(states, id) }),
    );
    if stock.numbers.rows().any(|((node, _), n)| node == Node::Unassigned && n > 0) {
        all.push(plain(Words::plain("Some of these fish were not told apart by brood.")));
    }
    all
}

/// The way to the page of a brood; founders have none.
fn ancestry_link(states: &RoomStates<'_>, id: NodeId) -> Option<Link> {
    let code = match states.broods.get(&id) {
        Some(brood) => brood.code.clone(),
        None => copied(states, id).and_then(|ancestor| ancestor.code.clone()),
    };
    Some(Link { href: format!("/broods/{id}"), words: format!("Ancestry of {}", code?) })
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

fn of_node(states: &RoomStates<'_>, id: NodeId, wall: Wall) -> Words {
    let name = node(states, Node::Of(id)).capital();
    if let Some(&brood) = states.broods.get(&id) {
        let found = brood.found.map(|at| format!(", found {}", wall.day(at.seconds())));
        let words = name.and(RunKind::Plain, format!("{}. ", found.unwrap_or_default()));
        return parents(states, words, &of_brood(id, brood));
    }
    if let Some(founders) = founders(states, id) {
        let related = match founders.related {
            Related::NotKnown => "whether they are related is not known".to_owned(),
            known => format!("{} among themselves", known.plain()),
        };
        let place =
            founders.locality.as_ref().map_or_else(String::new, |place| format!(" Caught at {place}."));
        return name.and(RunKind::Plain, format!(": {related}; their parents are not recorded.{place}"));
    }
    match copied(states, id) {
        Some(ancestor) if ancestor.code.is_some() => {
            let month = ancestor.month.as_ref().map_or_else(String::new, |month| format!(", of {month}"));
            let words = name.and(RunKind::Plain, format!("{month}, as told with the parcel. "));
            parents(states, words, ancestor)
        }
        _ => name.and(RunKind::Plain, ". Their parents are not known here."),
    }
}

fn parents(states: &RoomStates<'_>, words: Words, of: &Ancestor) -> Words {
    let words = side(states, words, ["Father", "Fathers"], of.sires.as_ref());
    side(states, words.and(RunKind::Plain, " "), ["Mother", "Mothers"], of.dams.as_ref())
}

fn side(states: &RoomStates<'_>, words: Words, who: [&str; 2], parents: Option<&Parents>) -> Words {
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
    for (at, parent) in parents.of.iter().enumerate() {
        let comma = if at == 0 { "" } else { ", " };
        words = words.and(RunKind::Plain, format!("{comma}{} of ", parent.n));
        words.runs.extend(node(states, parent.node).runs);
    }
    words.and(RunKind::Plain, ".")
}
