//! What follows when an arrival turns out to be a parcel that another room sent.

use std::collections::BTreeMap;

use super::ops::PackedRow;
use crate::rooms::{Count, Node, Row, Sex};

/// What was sent, without the giver's stocks.
pub fn sent_rows(packed: &[PackedRow]) -> Vec<Row> {
    let mut all: BTreeMap<(Node, Sex), i64> = BTreeMap::new();
    for row in packed {
        *all.entry((row.node, row.sex)).or_default() += row.n.get();
    }
    let row = |((node, sex), n): ((Node, Sex), i64)| {
        let n = u32::try_from(n).ok().and_then(Count::of)?;
        Some(Row { node, sex, n, about: false })
    };
    all.into_iter().filter_map(row).collect()
}

/// Of which node fish are that the receiver typed without it, where what was sent leaves no doubt: all of a sex, or all
/// of the parcel, are of one node.
pub fn told_apart(sent: &[Row], alive: &[Row]) -> Vec<Row> {
    let only = |sex: Option<Sex>| {
        let mut nodes = sent.iter().filter(|row| sex.is_none_or(|sex| row.sex == sex)).map(|row| row.node);
        let first = nodes.next().filter(|node| *node != Node::Unassigned)?;
        nodes.all(|node| node == first).then_some(first)
    };
    let loose = alive.iter().filter(|row| row.node == Node::Unassigned && row.n.get() > 0);
    loose
        .filter_map(|row| {
            let node = only(None).or_else(|| only(Some(row.sex)))?;
            Some(Row { node, sex: row.sex, n: row.n, about: row.about })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::streams::NodeId;

    fn row(node: u128, sex: Sex, n: u32) -> Row {
        let node = if node == 0 { Node::Unassigned } else { Node::Of(NodeId(Uuid::from_u128(node))) };
        Row { node, sex, n: Count::of(n).expect("few"), about: false }
    }

    #[test]
    fn fish_of_a_parcel_of_one_brood_are_of_that_brood_whatever_their_sex() {
        let sent = [row(1, Sex::Unsexed, 6)];
        let typed = [row(0, Sex::Male, 2), row(0, Sex::Female, 3)];
        assert_eq!(told_apart(&sent, &typed), [row(1, Sex::Male, 2), row(1, Sex::Female, 3)]);
    }

    #[test]
    fn where_each_sex_is_of_one_brood_the_sex_tells_it() {
        let sent = [row(1, Sex::Male, 2), row(2, Sex::Female, 3)];
        let typed = [row(0, Sex::Male, 2), row(0, Sex::Female, 3), row(0, Sex::Unsexed, 1)];
        assert_eq!(told_apart(&sent, &typed), [row(1, Sex::Male, 2), row(2, Sex::Female, 3)]);
    }

    #[test]
    fn where_there_is_doubt_nothing_is_told_apart() {
        let sent = [row(1, Sex::Male, 2), row(2, Sex::Male, 3)];
        assert_eq!(told_apart(&sent, &[row(0, Sex::Male, 5)]), []);
        assert_eq!(told_apart(&[row(0, Sex::Male, 5)], &[row(0, Sex::Male, 5)]), []);
    }
}
