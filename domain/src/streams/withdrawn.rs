//! The kinds that speak of other ops. All ops stay; a withdrawal changes the fold, a redaction only words that no fold
//! reads, and an adoption nothing.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{AccountId, Links, OpId};

/// `op.withdrawn`: an earlier entry was wrong and no longer counts. (The body's `op` is its kind, so the
/// entry it takes back is named `entry`.)
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Withdrawn {
    /// The op that no longer counts.
    pub entry: OpId,
    /// Why, in the keeper's words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
}

impl Withdrawn {
    /// It names no thing, only an op.
    pub fn links(&self) -> Links {
        Links { withdraws: Some(self.entry), ..Links::default() }
    }
}

/// `op.redacted`: the words in personal fields of an entry are blanked, wherever it is kept (a decision). Who decided it
/// is the account under which it was accepted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Redacted {
    /// The op whose fields are blanked.
    pub entry: OpId,
    /// Which fields.
    pub fields: Vec<String>,
}

impl Redacted {
    /// It names no thing, and changes no state.
    pub fn links(&self) -> Links {
        Links::default()
    }
}

/// `op.adopted`: entries of somebody who may no longer write here were taken in, as they were written (a decision). Who
/// took them in is the account under which it was accepted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Adopted {
    /// Which.
    pub entries: Vec<OpId>,
    /// Who wrote them.
    pub from: AccountId,
}

impl Adopted {
    /// It names no thing, and changes no state.
    pub fn links(&self) -> Links {
        Links::default()
    }
}
