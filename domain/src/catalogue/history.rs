//! What becomes of another server's decisions when a room moves here: what changed numbers or names still does, all else
//! is kept to be read. None of it gives a right.

use super::Body;
use crate::lineage::HistoryTold;
use crate::parcels::{HistoryMatched, HistorySent};
use crate::rooms::ops::{HistoryDecided, HistoryTakenIn};
use crate::streams::{EntityKind, EpochId, OpId, StockId, canonical};

impl Body {
    /// The same, as something that was decided elsewhere by the op `entry`; none: it is no decision. What came along
    /// from an earlier server stays what it is.
    pub fn as_history(&self, entry: OpId) -> Option<Self> {
        if self.writer() != super::Writer::Decision {
            return None;
        }
        Some(match self {
            Self::HistorySent(_)
            | Self::HistoryMatched(_)
            | Self::HistoryTold(_)
            | Self::HistoryDecided(_) => self.clone(),
            Self::ParcelSent(b) => Self::HistorySent(HistorySent {
                entry,
                parcel: b.parcel,
                rows: b.rows.clone(),
                ancestry: b.ancestry.clone(),
            }),
            Self::ParcelMatched(b) => Self::HistoryMatched(HistoryMatched {
                entry,
                parcel: b.parcel,
                stock: b.stock,
                sent: b.sent.clone(),
                ancestry: b.ancestry.clone(),
                told_apart: b.told_apart.clone(),
            }),
            Self::BroodTold(b) => Self::HistoryTold(HistoryTold {
                entry,
                brood: b.brood,
                what: b.what,
                why: b.why.clone(),
                nodes: b.nodes.clone(),
            }),
            other => other.as_words(entry, |_| true),
        })
    }

    /// The same as words alone, that speak of those of the stocks it names which are known.
    pub fn as_words(&self, entry: OpId, is_known: impl Fn(StockId) -> bool) -> Self {
        let mut stocks: Vec<StockId> = match self {
            Self::QuarantineCleared(b) => b.members.clone(),
            other => {
                let named = other.links().named();
                named.into_iter().filter(|e| e.kind == EntityKind::Stock).map(|e| StockId(e.id)).collect()
            }
        };
        stocks.retain(|stock| is_known(*stock));
        let said = canonical::text(&self.to_value());
        Self::HistoryDecided(HistoryDecided { entry, kind: self.kind().to_owned(), stocks, said })
    }

    /// All that came along from another server is here: from where, how many claims and decisions, and the stocks that
    /// had come in there.
    pub fn all_taken_in(
        (server, epoch, head): (Option<String>, EpochId, u64),
        (claims, decisions): (u64, u64),
        stocks: Vec<StockId>,
    ) -> Self {
        Self::HistoryTakenIn(HistoryTakenIn { server, epoch, head, claims, decisions, stocks })
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Map, json};

    use super::*;
    use crate::streams::OpId;

    fn id(n: u128) -> uuid::Uuid {
        uuid::Uuid::from_u128(0x0190_a1b2_0000_7000_8000_0000_0000_0000 + n)
    }

    fn body(value: serde_json::Value) -> Body {
        let serde_json::Value::Object(mut fields): serde_json::Value = value else { panic!("an object") };
        let kind = fields.remove("op").and_then(|op| op.as_str().map(str::to_owned)).expect("a kind");
        Body::decode(&kind, Map::from_iter(fields)).expect("a body")
    }

    #[test]
    fn fish_that_left_there_are_gone_here_and_nobody_of_here_is_meant() {
        let sent = body(
            json!({"op": "parcel.sent", "parcel": id(1), "to": id(2), "ancestry": [], "relies": [id(3)],
            "rows": [{"stock": id(4), "node": "unassigned", "sex": "male", "n": 2}]}),
        );
        let told = sent.as_history(OpId(id(9))).expect("a decision");
        assert_eq!(
            told.to_value(),
            json!({"op": "history.sent", "entry": id(9), "parcel": id(1), "ancestry": [],
                "rows": [{"stock": id(4), "node": "unassigned", "sex": "male", "n": 2}]})
        );
        assert_eq!(told.as_history(OpId(id(8))), Some(told.clone()), "and stays so at the next server");
    }

    #[test]
    fn a_sign_off_from_there_is_words_about_its_fish() {
        let agreed = body(
            json!({"op": "parcel.settled", "parcel": id(1), "outcome": "lost", "rows": [], "why": "gone",
            "officer": id(5), "relies": []}),
        );
        let Some(Body::HistoryDecided(words)) = agreed.as_history(OpId(id(9))) else { panic!("words") };
        assert_eq!((words.kind.as_str(), words.stocks.len()), ("parcel.settled", 0));
        assert!(words.said.contains(r#""why":"gone""#), "{}", words.said);
        assert!(Body::HistoryDecided(words).links().log, "it changes nothing");
    }

    #[test]
    fn what_a_keeper_saw_is_no_decision() {
        let lost = body(json!({"op": "note.written", "text": "quiet"}));
        assert_eq!(lost.as_history(OpId(id(9))), None);
    }
}
