//! Which fish came to which row of a stock, one op at a time: what tells which of them bred together. Judges nothing.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::numbers::{Key, Node, Numbers, Row, Sex};
use super::ops::Sexing;
use crate::streams::{At, OpId, StockId};

/// Fish that came to a row (one node and sex) of a stock; or that the last of its males or females are gone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Grew {
    /// When.
    pub at: At,
    /// The entry.
    pub op: OpId,
    /// Of which node.
    pub node: Node,
    /// Of which sex.
    pub sex: Sex,
    /// How many; 0: none of them is left.
    pub n: i64,
    /// How many were there before, of that sex; where none was told, of those not told. What is missing of all that
    /// came before was lost or went on.
    pub had: i64,
    /// The stock that they were in before, if it was one of this room.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<StockId>,
    /// They were here, their sex not known.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub sexed: bool,
}

/// What came so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Growth {
    pub grew: Vec<Grew>,
    /// Rows of males or females that have any.
    there: BTreeSet<Key>,
}

impl Growth {
    /// So many come to a row; `numbers` are those before.
    pub fn came(&mut self, by: (At, OpId), key: Key, n: i64, from: Option<StockId>, numbers: &Numbers) {
        self.push(by, key, (n, numbers.told_alike(key)), from, false);
    }

    /// Some turn out to be of another sex; they are out of their old row already.
    pub fn turned(&mut self, by: (At, OpId), row: &Sexing, numbers: &Numbers) {
        let (key, sexed) = ((row.node, row.to), matches!(row.from, Sex::Unsexed | Sex::Any));
        if row.from != row.to {
            self.push(by, key, (row.n.get(), numbers.told_alike(key)), None, sexed);
        }
    }

    /// A count found more of some rows than were there. Where the records had less than none, nothing was there; a row
    /// that is named twice is what it is named last.
    pub fn counted(&mut self, by: (At, OpId), rows: &[Row], mut before: Numbers, now: &Numbers) {
        for key in rows.iter().map(|row| (row.node, row.sex)) {
            let (had, alike) = (before.get(key), before.told_alike(key));
            before.add(key, now.get(key) - had);
            self.push(by, key, (now.get(key) - had.max(0), alike), None, false);
        }
    }

    /// After an op: which males or females are all gone.
    pub fn settle(&mut self, by: (At, OpId), numbers: &Numbers) {
        let gone: Vec<Key> = self.there.iter().copied().filter(|key| numbers.told_alike(*key) == 0).collect();
        for key in gone {
            self.there.remove(&key);
            let ((at, op), (node, sex)) = (by, key);
            self.grew.push(Grew { at, op, node, sex, n: 0, had: 0, from: None, sexed: false });
        }
        let sexed = numbers.rows().filter(|((_, sex), n)| *n > 0 && matches!(sex, Sex::Male | Sex::Female));
        if numbers.total() > 0 {
            self.there.extend(sexed.map(|(key, _)| key));
        }
    }

    fn push(&mut self, by: (At, OpId), key: Key, n: (i64, i64), from: Option<StockId>, sexed: bool) {
        let ((at, op), (node, sex), (n, had)) = (by, key, n);
        // eggs are no fish yet
        if n > 0 && sex != Sex::Eggs {
            self.grew.push(Grew { at, op, node, sex, n, had, from, sexed });
        }
    }
}
