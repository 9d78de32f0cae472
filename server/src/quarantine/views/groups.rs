//! What is in the way, put together as it is told and let pass: gaps of one time, entries of one push, counts of one
//! stock. Judges nothing.

use std::collections::BTreeMap;

use tarn_domain::quarantine::BlockerKind;
use tarn_domain::state::Blocker;
use tarn_domain::streams::StockId;

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

/// What goes together: gaps from then to then, entries of one push that are late, or that take others back, and counts
/// of one stock. `None`: nothing else.
fn together(blocker: &Blocker) -> Option<(BlockerKind, Option<StockId>, i64, i64)> {
    let kind = blocker.kind();
    match blocker {
        Blocker::Gap(gap) => Some((kind, None, gap.from.seconds(), gap.until.seconds())),
        Blocker::Late { received, .. } | Blocker::Withdrawn { received, .. } => {
            received.map(|received| (kind, None, received.0, 0))
        }
        Blocker::FoundMore(mark) => Some((kind, Some(mark.stock), 0, 0)),
        Blocker::ManyNamed(_) => None,
    }
}

/// All groups, in the order of their first blockers.
pub fn groups(blockers: &[Blocker]) -> Vec<Group> {
    let mut all: Vec<Group> = Vec::new();
    let mut places: BTreeMap<_, usize> = BTreeMap::new();
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
    use tarn_domain::quarantine::{Gap, Mark, MarkKind};
    use tarn_domain::streams::{At, OpId, Received};
    use uuid::Uuid;

    use super::*;

    fn late(op: u128, received: i64) -> Blocker {
        let (op, received) = (OpId(Uuid::from_u128(op)), Some(Received(received)));
        Blocker::Late { op, at: At::from_seconds(0), received }
    }

    #[test]
    fn what_one_reason_lets_pass_is_read_together() {
        let gap = |stock| {
            let (from, until) = (At::from_seconds(0), At::from_seconds(9));
            Blocker::Gap(Gap { from, until, stock: StockId(Uuid::from_u128(stock)) })
        };
        let withdrawn = |op, received: i64| {
            let (op, by) = (OpId(Uuid::from_u128(op)), OpId(Uuid::from_u128(op + 90)));
            Blocker::Withdrawn { op, by, received: Some(Received(received)) }
        };
        let more = |op, stock| {
            let (op, stock) = (OpId(Uuid::from_u128(op)), StockId(Uuid::from_u128(stock)));
            Blocker::FoundMore(Mark { kind: MarkKind::FoundMore, stock, op, at: At::from_seconds(0) })
        };
        let all = [
            gap(1),
            gap(2),
            late(3, 7),
            withdrawn(4, 7),
            late(5, 8),
            late(6, 7),
            withdrawn(7, 7),
            withdrawn(8, 9),
            more(10, 1),
            more(11, 2),
            more(12, 1),
        ];
        let groups = groups(&all);
        let sizes: Vec<usize> = groups.iter().map(|group| group.all.len()).collect();
        assert_eq!(sizes, [2, 2, 2, 1, 1, 2, 1]);
        assert!(groups[1].field().starts_with("waiver-recorded-late-"), "{}", groups[1].field());
        assert_eq!(groups.iter().flat_map(Group::keys).count(), all.len());
    }
}
