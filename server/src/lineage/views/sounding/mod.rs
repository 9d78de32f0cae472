//! The picture of an ancestry: a sounding. The brood stands above the waterline, each generation one step deeper, the
//! gauge at the left counts them. Takes what is known, ready to print, and only places it; asks nothing and decides
//! nothing. A brood that is met twice is drawn once.

mod block;
mod depth;
mod in_words;
mod pen;
mod place;
mod settle;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use tarn_domain::lineage::Draw;
use tarn_domain::streams::NodeId;

use crate::platform::drawing::Picture;
use crate::platform::fit::Type;
use depth::Depths;

pub use in_words::Row;

/// How many generations are drawn; the words tell all.
const GENERATIONS: usize = 8;
/// With more broods than this the deepest generations are left to the words.
const MOST: usize = 90;

/// An ancestry.
#[derive(Debug, Clone)]
pub struct Sounding {
    /// The brood that it is of.
    pub of: NodeId,
    /// It and everything that it descends from, as far as it is told. A parent that is missing here has no line.
    pub nodes: BTreeMap<NodeId, Met>,
}

/// What is met on the way down.
#[derive(Debug, Clone)]
pub enum Met {
    /// A brood.
    Brood(Brood),
    /// Where the records end.
    End {
        /// "founders".
        name: String,
        /// "bought 2018"; empty if nothing is told.
        words: String,
    },
}

/// A brood of an ancestry.
#[derive(Debug, Clone, Default)]
pub struct Brood {
    /// Its breeder's code.
    pub code: String,
    /// "May 2026".
    pub month: Option<String>,
    /// "34", "about 60 eggs".
    pub young: Option<String>,
    /// Species or form, where they are not those of the brood that the ancestry is of.
    pub differs: Option<String>,
    /// Whether its parents were of different species, places or lines.
    pub cross: bool,
    /// Its fathers.
    pub fathers: Side,
    /// Its mothers.
    pub mothers: Side,
}

/// One side of a brood's parents.
#[derive(Debug, Clone, Default)]
pub enum Side {
    /// Nobody wrote them down.
    #[default]
    NotKnown,
    /// They are known, perhaps among others.
    Known {
        /// One fish, perhaps unknown which, or all of them.
        draw: Draw,
        /// Who they are or may be.
        of: Vec<Entry>,
    },
}

/// So many fish of one node.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Which node; none: they were not told apart.
    pub node: Option<NodeId>,
    /// How many there were.
    pub n: u32,
}

impl Side {
    /// How many there were.
    fn total(&self) -> u64 {
        match self {
            Self::NotKnown => 0,
            Self::Known { of, .. } => of.iter().map(|entry| u64::from(entry.n)).sum(),
        }
    }

    /// Whether one of several is the parent, and nobody knows which.
    fn is_open(&self) -> bool {
        matches!(self, Self::Known { draw: Draw::One, .. }) && self.total() > 1
    }

    /// The nodes, each once.
    pub fn nodes(&self) -> Vec<NodeId> {
        let Self::Known { of, .. } = self else { return Vec::new() };
        let mut nodes: Vec<NodeId> = Vec::new();
        for node in of.iter().filter_map(|entry| entry.node) {
            if !nodes.contains(&node) {
                nodes.push(node);
            }
        }
        nodes
    }
}

/// A width, and what fits it.
struct Sheet {
    width: i32,
    /// What the gauge takes.
    left: i32,
    right: i32,
    /// Where the gauge stands.
    gauge: i32,
    root: Type,
    code: Type,
    plain: Type,
    deep: Type,
    /// Notes are no wider than this, unless a single word is.
    note: i32,
    /// Between two blocks.
    apart: i32,
    /// Between a line and what it passes.
    aside: i32,
    /// Between two generations, for the lines.
    step: i32,
    /// What the gauge says.
    named: fn(usize) -> String,
}

const NARROW: Sheet = Sheet {
    width: 358,
    left: 26,
    right: 4,
    gauge: 18,
    root: Type { size: 15, bold: true },
    code: Type { size: 13, bold: true },
    plain: Type { size: 12, bold: false },
    deep: Type { size: 13, bold: false },
    note: 104,
    apart: 12,
    aside: 9,
    step: 40,
    named: |depth| depth.to_string(),
};
const WIDE: Sheet = Sheet {
    width: 860,
    left: 128,
    right: 4,
    gauge: 112,
    root: Type { size: 18, bold: true },
    code: Type { size: 15, bold: true },
    plain: Type { size: 14, bold: false },
    deep: Type { size: 14, bold: false },
    note: 150,
    apart: 24,
    aside: 12,
    step: 46,
    named: |depth| match depth {
        0 => "this brood".into(),
        1 => "parents".into(),
        2 => "grandparents".into(),
        n => format!("{n} back"),
    },
};

impl Sounding {
    /// The picture; none if nothing is told of the brood.
    pub fn picture(&self) -> Option<Picture> {
        let Met::Brood(brood) = self.nodes.get(&self.of)? else { return None };
        let drawn = Depths::of(self).drawn();
        let deepest = drawn.values().copied().max().unwrap_or(0);
        let far = match deepest {
            0 => "nothing is known of its parents".to_owned(),
            1 => "one generation".to_owned(),
            n => format!("{n} generations"),
        };
        let drawing = |sheet| pen::drawing(self, &drawn, sheet);
        Some(Picture {
            label: format!("Ancestry of {}, {far}; the same stands in words under it", brood.code),
            narrow: drawing(&NARROW),
            wide: drawing(&WIDE),
        })
    }

    /// How many generations back the records go.
    pub fn generations(&self) -> usize {
        Depths::of(self).depths.values().copied().max().unwrap_or(0)
    }

    /// How many nodes are told only in words.
    pub fn left_out(&self) -> usize {
        let depths = Depths::of(self);
        depths.depths.len() - depths.drawn().len()
    }
}
