//! A slow reading of which fish may be where: every way in which fish that nobody tells apart may have gone, each fish
//! with the entry that brought it to its row and the last group that it was part of. Takes nothing from the rule that
//! it is held against.

use std::collections::{BTreeMap, BTreeSet};

use tarn_domain::streams::{NodeId, OpId};

/// Male, female, unsexed: in this order.
pub const MALE: usize = 0;
/// See [`MALE`].
pub const FEMALE: usize = 1;
/// See [`MALE`].
pub const UNSEXED: usize = 2;

/// A row: which stock, which sex.
pub type Row = (u128, usize);

/// One fish.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fish {
    /// The entry that brought it to its row.
    pub came: OpId,
    /// The last groups of fathers and of mothers that it was part of.
    pub group: [Option<NodeId>; 2],
}

/// One way in which it may have been: the fish of each row, in order.
pub type World = BTreeMap<Row, Vec<Fish>>;

/// All ways in which it may have been.
pub struct Worlds(pub BTreeSet<World>);

impl Worlds {
    /// Nothing yet.
    pub fn new() -> Self {
        Self(BTreeSet::from([World::new()]))
    }

    /// How many are in a row: the same in every world.
    pub fn count(&self, row: Row) -> usize {
        let counts: BTreeSet<usize> =
            self.0.iter().map(|world| world.get(&row).map_or(0, Vec::len)).collect();
        assert_eq!(counts.len(), 1, "numbers are told");
        counts.into_iter().next().expect("one")
    }

    /// New fish.
    pub fn come(&mut self, row: Row, n: usize, came: OpId) {
        self.each(|world| {
            let fish = world.entry(row).or_default();
            fish.extend(std::iter::repeat_n(Fish { came, group: [None; 2] }, n));
            fish.sort_unstable();
        });
    }

    /// Any so many of a row are gone, or go into another.
    pub fn go(&mut self, row: Row, n: usize, into: Option<(Row, OpId)>) {
        for _ in 0..n {
            let mut next = BTreeSet::new();
            for world in &self.0 {
                let all = world.get(&row).cloned().unwrap_or_default();
                let kinds: BTreeSet<Fish> = all.iter().copied().collect();
                for fish in kinds {
                    let mut world = world.clone();
                    let rest = world.entry(row).or_default();
                    rest.remove(rest.iter().position(|one| *one == fish).expect("there"));
                    if let Some((into, came)) = into {
                        let there = world.entry(into).or_default();
                        // A step at a time: those that went by this entry already are not taken again.
                        there.push(Fish { came, ..fish });
                        there.sort_unstable();
                    }
                    next.insert(world);
                }
            }
            self.0 = next;
        }
    }

    /// The fish of a row that came by certain entries are a group from now on.
    pub fn breed(&mut self, row: Row, side: usize, by: &[OpId], group: NodeId) {
        self.each(|world| {
            for fish in world.entry(row).or_default().iter_mut().filter(|fish| by.contains(&fish.came)) {
                fish.group[side] = Some(group);
            }
            world.entry(row).or_default().sort_unstable();
        });
    }

    fn each(&mut self, change: impl Fn(&mut World)) {
        self.0 = std::mem::take(&mut self.0)
            .into_iter()
            .map(|mut world| {
                change(&mut world);
                world
            })
            .collect();
    }
}
