//! An ancestry in words: everything that the picture shows, and what had no room in it.

use tarn_domain::lineage::Draw;
use tarn_domain::streams::NodeId;

use super::depth::Depths;
use super::{Brood, Entry, Met, Side, Sounding};
use crate::platform::words::{RunKind, Words};

/// One brood, or where the records end.
pub struct Row {
    /// Which.
    pub node: NodeId,
    /// How deep it stands.
    pub depth: usize,
    /// Whether it is a brood, which has a page.
    pub is_brood: bool,
    /// What it is called.
    pub name: Words,
    /// What is known of it.
    pub told: Words,
}

/// How much an ancestry tells.
pub struct AllTold {
    /// Broods that it descends from.
    pub broods: usize,
    /// Groups at which the records end.
    pub ends: usize,
    /// Broods, it among them, of which a parent is not known.
    pub open: usize,
}

impl Sounding {
    /// How much is told.
    pub fn all_told(&self) -> AllTold {
        let mut told = AllTold { broods: 0, ends: 0, open: 0 };
        for node in Depths::of(self).depths.into_keys() {
            match self.nodes.get(&node) {
                Some(Met::Brood(brood)) => {
                    told.broods += usize::from(node != self.of);
                    let open = |side: &Side| matches!(side, Side::NotKnown);
                    told.open += usize::from(open(&brood.fathers) || open(&brood.mothers));
                }
                Some(Met::End { .. }) => told.ends += 1,
                None => {}
            }
        }
        told
    }

    /// Everything, the nearest first.
    pub fn in_words(&self) -> Vec<Row> {
        let mut all: Vec<(usize, &str, NodeId)> = Depths::of(self)
            .depths
            .into_iter()
            .map(|(node, depth)| (depth, self.nodes.get(&node).map_or("", name), node))
            .collect();
        all.sort_unstable();
        all.into_iter()
            .filter_map(|(depth, _, node)| Some(self.row(node, depth, self.nodes.get(&node)?)))
            .collect()
    }

    fn row(&self, node: NodeId, depth: usize, met: &Met) -> Row {
        let (is_brood, told) = match met {
            Met::Brood(brood) => (true, self.brood(brood)),
            Met::End { words, .. } if words.is_empty() => (false, Words::plain("Nothing more is told.")),
            Met::End { words, .. } => {
                (false, Words::plain(format!("{words}. Their parents are not recorded.")).capital())
            }
        };
        let kind = if is_brood { RunKind::Code } else { RunKind::Plain };
        Row { node, depth, is_brood, name: Words::default().and(kind, name(met)).capital(), told }
    }

    fn brood(&self, brood: &Brood) -> Words {
        let young = brood.young.as_ref().map(|young| match young.parse::<u32>() {
            Ok(_) => format!("{young}\u{a0}young"),
            Err(_) => young.clone(),
        });
        let cross = brood.cross.then(|| "a cross".to_owned());
        let facts: Vec<String> =
            [brood.month.clone(), young, brood.differs.clone(), cross].into_iter().flatten().collect();
        let facts = if facts.is_empty() { String::new() } else { format!("{}. ", facts.join(", ")) };
        let words = self.side(Words::plain(facts), Which::FATHERS, &brood.fathers);
        self.side(words.and(RunKind::Plain, " "), Which::MOTHERS, &brood.mothers)
    }

    fn side(&self, words: Words, which: Which, side: &Side) -> Words {
        let Side::Known { draw, of } = side else {
            return words.and(RunKind::Plain, format!("{}: not known.", which.one));
        };
        let total = side.total();
        let several = of.len() > 1;
        let (begin, between) = match (draw, total) {
            (Draw::One, n) if n > 1 && several => {
                (format!("{}: one of {n} {}: ", which.one, which.many_fish), " or ")
            }
            (Draw::One, n) if n > 1 => (format!("{}: one of ", which.one), " or "),
            (Draw::One, _) => (format!("{}: ", which.one), " or "),
            (Draw::Many, _) => (format!("{}: ", which.many), " and "),
        };
        let mut words = words.and(RunKind::Plain, begin);
        for (at, entry) in of.iter().enumerate() {
            if at > 0 {
                words = words.and(RunKind::Plain, between);
            }
            words = words.and(RunKind::Plain, many(entry, which, several)).then(self.of(entry));
        }
        words.and(RunKind::Plain, ".")
    }

    /// "of AC-25-03".
    fn of(&self, entry: &Entry) -> Words {
        let Some(node) = entry.node else { return Words::plain("that were not told apart by brood") };
        match self.nodes.get(&node) {
            Some(Met::Brood(brood)) => Words::plain("of ").and(RunKind::Code, &brood.code),
            Some(Met::End { name, words }) if words.is_empty() => Words::plain(format!("of {name}")),
            Some(Met::End { name, words }) => Words::plain(format!("of {name}, {words}")),
            None => Words::plain("of a lineage that is not told here"),
        }
    }
}

/// How one side's fish are called.
#[derive(Clone, Copy)]
struct Which {
    one: &'static str,
    many: &'static str,
    a_fish: &'static str,
    many_fish: &'static str,
}

impl Which {
    const FATHERS: Self = Self { one: "Father", many: "Fathers", a_fish: "male", many_fish: "males" };
    const MOTHERS: Self = Self { one: "Mother", many: "Mothers", a_fish: "female", many_fish: "females" };
}

/// "2 " or "2 males "; "a male ".
fn many(entry: &Entry, which: Which, several: bool) -> String {
    match (entry.n, several) {
        (n, true) => format!("{n} "),
        (1, false) => format!("a {} ", which.a_fish),
        (n, false) => format!("{n} {} ", which.many_fish),
    }
}

fn name(met: &Met) -> &str {
    match met {
        Met::Brood(brood) => &brood.code,
        Met::End { name, .. } => name,
    }
}
