//! The two kinds that speak of another op. Both ops stay; only the fold changes.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Links, OpId};

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

/// `op.redacted`: reserved for blanking personal fields; nobody writes it yet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Redacted {
    /// The op whose fields are blanked.
    pub entry: OpId,
    /// Which fields.
    pub fields: Vec<String>,
}
