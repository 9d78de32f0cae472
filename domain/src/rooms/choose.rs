//! Which rows of a stock a keeper means by plain numbers. Never spreads fish over lineages by proportion: what can't be
//! told is recorded as not told apart, or asked for.

use std::collections::BTreeSet;

use super::numbers::{Node, Numbers, Row, Sex};
use super::typed::Typed;

/// Why the rows can't be told.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotChosen {
    /// Fish of several lineages of that sex are in the stock.
    #[error("fish of several broods are in this stock, so it must be said of which")]
    Which(Vec<Node>),
    /// A total alone does not say how many of each sex are left.
    #[error("this stock is recorded by sex, so a count of it is written by sex, as in 2.3.10")]
    BySex,
}

/// The lineages whose fish are in a stock, those not told apart among them.
pub fn nodes(numbers: &Numbers) -> BTreeSet<Node> {
    numbers.rows().filter(|(_, n)| *n > 0).map(|((node, _), _)| node).collect()
}

/// The rows that typed numbers take from (or move within) a stock. `node` is what the keeper says; `none_left` is the
/// stock's own lineage, for one whose records have none left.
///
/// # Errors
/// [`NotChosen::Which`] when sexed fish of several lineages could be meant.
pub fn taken(
    numbers: &Numbers,
    typed: &Typed,
    node: Option<Node>,
    none_left: Node,
) -> Result<Vec<Row>, NotChosen> {
    let all = nodes(numbers);
    let mut rows = Vec::with_capacity(typed.0.len());
    for &(sex, n, about) in &typed.0 {
        let here = match node {
            Some(node) => node,
            None if all.len() <= 1 => all.first().copied().unwrap_or(none_left),
            None => {
                let with: Vec<Node> = all.iter().copied().filter(|of| numbers.get((*of, sex)) > 0).collect();
                match with[..] {
                    [only] if sex != Sex::Unsexed => only,
                    _ if matches!(sex, Sex::Unsexed | Sex::Any) => Node::Unassigned,
                    _ => return Err(NotChosen::Which(all.into_iter().collect())),
                }
            }
        };
        let sex = if sex == Sex::Unsexed { plain(numbers, here, n.get()) } else { sex };
        rows.push(Row { node: here, sex, n, about });
    }
    Ok(rows)
}

/// What a plain number takes from: the unsexed if there are enough of them, the one sex that is there, or whichever.
fn plain(numbers: &Numbers, node: Node, n: i64) -> Sex {
    let here: Vec<(Sex, i64)> =
        numbers.rows().filter(|((of, _), n)| *of == node && *n > 0).map(|((_, sex), n)| (sex, n)).collect();
    match here[..] {
        [] if node == Node::Unassigned && nodes(numbers).len() > 1 => Sex::Any,
        [] => Sex::Unsexed,
        [(sex, _)] => sex,
        _ if here.iter().any(|(sex, have)| *sex == Sex::Unsexed && *have >= n) => Sex::Unsexed,
        _ => Sex::Any,
    }
}

/// The rows that a count sets. With `all` there are no others.
///
/// # Errors
/// When a plain total is given for a stock that is recorded by sex or by lineage.
pub fn counted(
    numbers: &Numbers,
    typed: &Typed,
    node: Option<Node>,
    none_left: Node,
    all: bool,
) -> Result<Vec<Row>, NotChosen> {
    let nodes = nodes(numbers);
    let here = match (node, nodes.len()) {
        (Some(node), _) => node,
        (None, 0 | 1) => nodes.first().copied().unwrap_or(none_left),
        (None, _) => return Err(NotChosen::Which(nodes.into_iter().collect())),
    };
    let sexes: BTreeSet<Sex> =
        numbers.rows().filter(|((of, _), n)| *of == here && *n > 0).map(|((_, sex), _)| sex).collect();
    if let [(Sex::Unsexed, n, about)] = typed.0[..] {
        if n.get() > 0 && sexes.len() == 1 {
            let sex = sexes.first().copied().unwrap_or(Sex::Unsexed);
            return Ok(vec![Row { node: here, sex, n, about }]);
        }
        if n.get() > 0 && all && sexes.len() > 1 {
            return Err(NotChosen::BySex);
        }
    }
    Ok(typed.rows(here))
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::streams::NodeId;

    const A: Node = Node::Of(NodeId(Uuid::from_u128(1)));
    const B: Node = Node::Of(NodeId(Uuid::from_u128(2)));

    fn stock(rows: &[(Node, Sex, i64)]) -> Numbers {
        let mut numbers = Numbers::default();
        rows.iter().for_each(|(node, sex, n)| numbers.add((*node, *sex), *n));
        numbers
    }

    fn take(numbers: &Numbers, text: &str, node: Option<Node>) -> Result<Vec<(Node, Sex, i64)>, NotChosen> {
        let typed = text.parse().expect(text);
        let rows = taken(numbers, &typed, node, A)?;
        Ok(rows.into_iter().map(|r| (r.node, r.sex, r.n.get())).collect())
    }

    #[test]
    fn one_lineage_is_meant_without_saying() {
        let sexed = stock(&[(A, Sex::Male, 2), (A, Sex::Female, 3)]);
        assert_eq!(take(&sexed, "1 m", None), Ok(vec![(A, Sex::Male, 1)]));
        // Nobody said which sex: of whichever.
        assert_eq!(take(&sexed, "1", None), Ok(vec![(A, Sex::Any, 1)]));
        let young = stock(&[(A, Sex::Male, 2), (A, Sex::Unsexed, 30)]);
        assert_eq!(take(&young, "4", None), Ok(vec![(A, Sex::Unsexed, 4)]));
        assert_eq!(take(&stock(&[(A, Sex::Eggs, 90)]), "4", None), Ok(vec![(A, Sex::Eggs, 4)]));
        assert_eq!(take(&Numbers::default(), "1", None), Ok(vec![(A, Sex::Unsexed, 1)]));
    }

    #[test]
    fn several_lineages_are_never_spread_over() {
        let mixed = stock(&[(A, Sex::Male, 2), (B, Sex::Female, 3), (B, Sex::Unsexed, 9)]);
        assert_eq!(take(&mixed, "3", None), Ok(vec![(Node::Unassigned, Sex::Any, 3)]));
        assert_eq!(take(&mixed, "3", Some(B)), Ok(vec![(B, Sex::Unsexed, 3)]));
        // Only one lineage has males.
        assert_eq!(take(&mixed, "1 m", None), Ok(vec![(A, Sex::Male, 1)]));
        let both = stock(&[(A, Sex::Male, 2), (B, Sex::Male, 3)]);
        assert_eq!(take(&both, "1 m", None), Err(NotChosen::Which(vec![A, B])));
    }

    #[test]
    fn a_total_does_not_undo_what_is_known_of_sexes() {
        let count = |numbers: &Numbers, text: &str, node| {
            let typed = text.parse().expect(text);
            let rows = counted(numbers, &typed, node, A, true)?;
            Ok(rows.into_iter().map(|r| (r.node, r.sex, r.n.get())).collect::<Vec<_>>())
        };
        let sexed = stock(&[(A, Sex::Male, 2), (A, Sex::Female, 3)]);
        assert_eq!(count(&sexed, "4", None), Err(NotChosen::BySex));
        assert_eq!(count(&sexed, "0", None), Ok(vec![(A, Sex::Unsexed, 0)]));
        assert_eq!(count(&sexed, "1.3", None), Ok(vec![(A, Sex::Male, 1), (A, Sex::Female, 3)]));
        assert_eq!(count(&stock(&[(A, Sex::Eggs, 90)]), "80", None), Ok(vec![(A, Sex::Eggs, 80)]));
        let both = stock(&[(A, Sex::Male, 2), (B, Sex::Male, 3)]);
        assert_eq!(count(&both, "4", None), Err(NotChosen::Which(vec![A, B])));
    }
}
