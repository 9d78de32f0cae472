//! How many fish: rows of (lineage node, sex) with a signed number. Must not know stays or tanks.

use std::collections::BTreeMap;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use std::borrow::Cow;

use crate::streams::NodeId;

/// Which lineage node fish belong to, or that they were not told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Node {
    /// Not told apart.
    Unassigned,
    /// A brood or founders.
    Of(NodeId),
}

impl fmt::Display for Node {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unassigned => f.write_str("unassigned"),
            Self::Of(id) => id.fmt(f),
        }
    }
}

impl Serialize for Node {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Node {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = Cow::<'de, str>::deserialize(d)?;
        if text == "unassigned" {
            return Ok(Self::Unassigned);
        }
        text.parse()
            .map(Self::Of)
            .map_err(|_| de::Error::custom("a node is an id in lower case or \"unassigned\""))
    }
}

impl JsonSchema for Node {
    fn schema_name() -> Cow<'static, str> {
        "Node".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "description": "the id of a brood or of founders, or \"unassigned\"" })
    }
}

/// The sex of fish, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Sex {
    /// Males.
    Male,
    /// Females.
    Female,
    /// Not sexed yet.
    Unsexed,
    /// Eggs.
    Eggs,
    /// Of whichever sex: what was seen but not told apart. Taking from it makes the other rows upper bounds.
    Any,
}

/// So many of one node and sex.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// The lineage node.
    pub node: Node,
    /// The sex.
    pub sex: Sex,
    /// How many.
    #[schemars(range(max = 10_000_000))]
    pub n: Count,
    /// Whether the number is a guess.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub about: bool,
}

/// A number of fish, at most ten million.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(transparent)]
pub struct Count(u32);

impl Count {
    /// The greatest number of one row.
    pub const MOST: u32 = 10_000_000;

    /// Of a number within bounds.
    pub fn of(n: u32) -> Option<Self> {
        (n <= Self::MOST).then_some(Self(n))
    }

    /// The number.
    pub fn get(self) -> i64 {
        i64::from(self.0)
    }
}

impl<'de> Deserialize<'de> for Count {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let n = u32::deserialize(d)?;
        Self::of(n).ok_or_else(|| de::Error::custom("a number of fish is from 0 to 10,000,000"))
    }
}

/// (node, sex) of one row.
pub type Key = (Node, Sex);

/// The signed rows of a stock; a row of 0 is not kept.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Numbers(BTreeMap<Key, i64>);

impl Numbers {
    /// Adds to a row (or takes, if negative).
    pub fn add(&mut self, key: Key, n: i64) {
        let row = self.0.entry(key).or_insert(0);
        *row += n;
        if *row == 0 {
            self.0.remove(&key);
        }
    }

    /// Adds rows `times` 1 or -1.
    pub fn add_rows(&mut self, rows: &[Row], times: i64) {
        for row in rows {
            self.add((row.node, row.sex), row.n.get() * times);
        }
    }

    /// One row.
    pub fn get(&self, key: Key) -> i64 {
        self.0.get(&key).copied().unwrap_or(0)
    }

    /// All rows that are not 0, in order.
    pub fn rows(&self) -> impl Iterator<Item = (Key, i64)> + '_ {
        self.0.iter().map(|(key, n)| (*key, *n))
    }

    /// The signed sum of all rows.
    pub fn total(&self) -> i64 {
        self.0.values().sum()
    }

    /// The sum over one sex.
    pub fn of_sex(&self, sex: Sex) -> i64 {
        self.0.iter().filter(|(key, _)| key.1 == sex).map(|(_, n)| n).sum()
    }

    /// How many fish there are of a node that are told as these are: of one sex, or of none that was told. Never more
    /// than there are in all: what was lost of whichever kind is missing somewhere.
    pub fn told_alike(&self, (node, sex): Key) -> i64 {
        let of = |sex| self.get((node, sex)).max(0);
        let alike = match sex {
            Sex::Unsexed | Sex::Any => of(Sex::Unsexed) + of(Sex::Any),
            sex => of(sex),
        };
        alike.min(self.total()).max(0)
    }

    /// Sets the rows that a count names. What it finds fewer is first taken off what `any` owes (of the same
    /// node, then of `unassigned`); with `all`, rows it does not name become 0, debts too.
    /// Returns the correction: the change of the total.
    pub fn count(&mut self, rows: &[Row], all: bool) -> i64 {
        let before = self.total();
        for row in rows {
            let key = (row.node, row.sex);
            let mut fewer = self.get(key) - row.n.get();
            self.add(key, -fewer);
            if row.sex != Sex::Any {
                for debtor in [(row.node, Sex::Any), (Node::Unassigned, Sex::Any)] {
                    let owed = (-self.get(debtor)).clamp(0, fewer.max(0));
                    self.add(debtor, owed);
                    fewer -= owed;
                }
            }
        }
        if all {
            self.0.retain(|key, _| rows.iter().any(|row| (row.node, row.sex) == *key));
        }
        self.total() - before
    }

    /// Males, females, unsexed (with `any` in it), eggs: what "2.3.10" says.
    pub fn spread(&self) -> Spread {
        let shown = |sex| self.of_sex(sex).max(0);
        Spread {
            males: shown(Sex::Male),
            females: shown(Sex::Female),
            unsexed: (self.of_sex(Sex::Unsexed) + self.of_sex(Sex::Any).max(0)).max(0),
            eggs: shown(Sex::Eggs),
        }
    }
}

impl Serialize for Numbers {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_seq(self.0.iter().map(|((node, sex), n)| StateRow { node: *node, sex: *sex, n: *n }))
    }
}

impl<'de> Deserialize<'de> for Numbers {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let rows = Vec::<StateRow>::deserialize(d)?;
        Ok(Self(rows.into_iter().map(|row| ((row.node, row.sex), row.n)).collect()))
    }
}

#[derive(Serialize, Deserialize)]
struct StateRow {
    node: Node,
    sex: Sex,
    n: i64,
}

/// Males, females, unsexed and eggs of a stock.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Spread {
    /// Males.
    pub males: i64,
    /// Females.
    pub females: i64,
    /// Unsexed, and those of whichever sex.
    pub unsexed: i64,
    /// Eggs.
    pub eggs: i64,
}

impl fmt::Display for Spread {
    /// "2 m 3 f, 10 unsexed, 26 eggs"; "none" when there are none.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts = Vec::new();
        let sexed: Vec<String> = [(self.males, "m"), (self.females, "f")]
            .iter()
            .filter(|(n, _)| *n > 0)
            .map(|(n, word)| format!("{n}\u{a0}{word}"))
            .collect();
        if !sexed.is_empty() {
            parts.push(sexed.join(" "));
        }
        if self.unsexed > 0 {
            parts.push(format!("{}\u{a0}unsexed", self.unsexed));
        }
        if self.eggs > 0 {
            parts.push(format!("{}\u{a0}{}", self.eggs, if self.eggs == 1 { "egg" } else { "eggs" }));
        }
        f.write_str(&if parts.is_empty() { "none".to_owned() } else { parts.join(", ") })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn row(sex: Sex, n: u32) -> Row {
        Row { node: Node::Unassigned, sex, n: Count::of(n).expect("small"), about: false }
    }

    #[test]
    fn a_count_takes_what_it_misses_off_the_debt_first() {
        let mut numbers = Numbers::default();
        numbers.add_rows(&[row(Sex::Male, 5), row(Sex::Female, 5)], 1);
        numbers.add_rows(&[row(Sex::Any, 3)], -1);
        assert_eq!(numbers.total(), 7);
        // Two males fewer were among the three lost: no correction.
        assert_eq!(numbers.count(&[row(Sex::Male, 3)], false), 0);
        assert_eq!(numbers.get((Node::Unassigned, Sex::Any)), -1);
        // Three females fewer: one was the last of the debt, two are news.
        assert_eq!(numbers.count(&[row(Sex::Female, 2)], false), -2);
        assert_eq!(numbers.total(), 5);
        // A whole count puts everything else to 0.
        assert_eq!(numbers.count(&[row(Sex::Unsexed, 6)], true), 1);
        assert_eq!(numbers.total(), 6);
    }

    proptest! {
        #[test]
        fn a_whole_count_is_what_was_counted(start in proptest::collection::vec((0u32..9, 0usize..5), 0..6), n in 0u32..9) {
            let sexes = [Sex::Male, Sex::Female, Sex::Unsexed, Sex::Eggs, Sex::Any];
            let mut numbers = Numbers::default();
            for (k, s) in start {
                numbers.add_rows(&[row(sexes[s], k)], if s == 4 { -1 } else { 1 });
            }
            let before = numbers.total();
            let correction = numbers.count(&[row(Sex::Male, n)], true);
            prop_assert_eq!(numbers.total(), i64::from(n));
            prop_assert_eq!(before + correction, i64::from(n));
        }
    }
}
