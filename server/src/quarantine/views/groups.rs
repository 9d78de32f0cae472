//! What is in the way, put together as it is told and let pass: gaps of one time, late entries of one push. Judges
//! nothing.

use std::collections::BTreeMap;

use tarn_domain::state::Blocker;

/// Blockers that are told under one heading and let pass with one reason.
pub struct Group {
    /// The first of them, which the group goes by.
    pub first: Blocker,
    /// All of them.
    pub all: Vec<Blocker>,
}

impl Group {
    /// What it is called in a page: letters, digits and hyphens only.
    pub fn slug(&self) -> String {
        let letter = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
        self.first.key().chars().map(letter).collect()
    }

    /// The name of the field for the reason why it may pass.
    pub fn field(&self) -> String {
        format!("waiver-{}", self.slug())
    }

    /// What a waiver calls each of them.
    pub fn keys(&self) -> impl Iterator<Item = String> + '_ {
        self.all.iter().map(Blocker::key)
    }
}

/// What goes together: gaps from then to then, entries of one push. `None`: nothing else.
fn together(blocker: &Blocker) -> Option<(i64, i64)> {
    match blocker {
        Blocker::Gap(gap) => Some((gap.from.seconds(), gap.until.seconds())),
        Blocker::Late { received, .. } => received.map(|received| (i64::MIN, received.0)),
        _ => None,
    }
}

/// All groups, in the order of their first blockers.
pub fn groups(blockers: &[Blocker]) -> Vec<Group> {
    let mut all: Vec<Group> = Vec::new();
    let mut places: BTreeMap<(i64, i64), usize> = BTreeMap::new();
    for blocker in blockers {
        let key = together(blocker);
        match key.and_then(|key| places.get(&key)) {
            Some(place) => all[*place].all.push(*blocker),
            None => {
                places.extend(key.map(|key| (key, all.len())));
                all.push(Group { first: *blocker, all: vec![*blocker] });
            }
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use tarn_domain::quarantine::Gap;
    use tarn_domain::streams::{At, OpId, Received, StockId};
    use uuid::Uuid;

    use super::*;

    fn late(op: u128, received: i64) -> Blocker {
        let (op, received) = (OpId(Uuid::from_u128(op)), Some(Received(received)));
        Blocker::Late { op, at: At::from_seconds(0), received }
    }

    #[test]
    fn late_entries_of_one_push_are_read_together() {
        let gap = |stock| {
            let (from, until) = (At::from_seconds(0), At::from_seconds(9));
            Blocker::Gap(Gap { from, until, stock: StockId(Uuid::from_u128(stock)) })
        };
        let withdrawn =
            |op| Blocker::Withdrawn { op: OpId(Uuid::from_u128(op)), by: OpId(Uuid::from_u128(99)) };
        let all = [gap(1), gap(2), late(3, 7), withdrawn(4), late(5, 8), late(6, 7), withdrawn(7)];
        let groups = groups(&all);
        let sizes: Vec<usize> = groups.iter().map(|group| group.all.len()).collect();
        assert_eq!(sizes, [2, 2, 1, 1, 1]);
        assert!(groups[1].field().starts_with("waiver-recorded-late-"), "{}", groups[1].field());
        assert_eq!(groups.iter().flat_map(Group::keys).count(), all.len());
    }
}
