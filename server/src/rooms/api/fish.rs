//! How fish are counted in answers: the shapes of a node, a sex and a row in the API document. What goes out are the
//! domain's own types, which know nothing of documents.

use serde::Serialize;
use utoipa::ToSchema;

/// The id of a brood, of breeders or of founders, or `unassigned`: not told apart
#[derive(Serialize, ToSchema)]
#[schema(pattern = "^(unassigned|[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12})$")]
#[schema(example = "0190a1b2-0000-7000-8000-00000000000c")]
pub struct Node(String);

/// The sex of fish; `any`: of whichever sex, not told apart
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, dead_code, reason = "the words of the document")]
pub enum Sex {
    Male,
    Female,
    Unsexed,
    Eggs,
    Any,
}

/// How many fish of one node and sex
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"node": "0190a1b2-0000-7000-8000-00000000000c", "sex": "female", "n": 3}))]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct Row {
    node: Node,
    sex: Sex,
    n: u32,
    /// Whether the number is a guess
    #[schema(required = false)]
    about: bool,
}

/// How many fish of one node and sex; below 0 where more went than there were
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"node": "0190a1b2-0000-7000-8000-00000000000c", "sex": "female", "n": 3}))]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct SignedRow {
    node: Node,
    sex: Sex,
    n: i64,
}
