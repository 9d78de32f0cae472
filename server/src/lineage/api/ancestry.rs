//! The shape of an ancestry in the API document. What goes out is the domain's own type, as it travels from room to
//! room; the domain knows nothing of documents, so its shape is told here once more.

use utoipa::ToSchema;
use uuid::Uuid;

use crate::rooms::api::fish::{Node, Sex};

/// One node of an ancestry
#[derive(ToSchema)]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub struct Ancestor {
    node: Uuid,
    /// What it is called elsewhere, if it comes from another server
    foreign: Option<Foreign>,
    is: Kin,
}

/// An id from another server: only together with its issuer does it name anything
#[derive(ToSchema)]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub struct Foreign {
    /// The server that gave it, by its address
    issuer: String,
    id: Uuid,
}

/// What a node of an ancestry is
#[derive(ToSchema)]
#[schema(rename_all = "snake_case")]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub enum Kin {
    /// All young of one spawning, or of pooled ones
    Brood(BroodCopy),
    /// The fish of one sex of a node that bred as one group
    Breeders(BreedersCopy),
    /// Fish whose parents are not recorded
    Founders(FoundersCopy),
}

/// A brood as it may travel; what is not known is left out
#[derive(ToSchema)]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub struct BroodCopy {
    /// The breeder's code
    code: Option<String>,
    /// As kept
    species: Option<String>,
    /// Colour or fin form
    form: Option<String>,
    /// The trade name
    trade: Option<String>,
    /// The collection code
    collection: Option<String>,
    /// The population that is kept apart
    line: Option<String>,
    /// Whether the determination is sure
    sure: Option<bool>,
    /// Year and month, `2026-03`
    month: Option<String>,
    /// How many there were when they were found or picked
    young: Option<u32>,
    /// Parents of different species, locality or line are among its ancestors
    #[schema(required = false)]
    cross: bool,
    /// The fathers; left out: not known
    sires: Option<SideCopy>,
    /// The mothers
    dams: Option<SideCopy>,
}

/// One side of a brood's parents
#[derive(ToSchema)]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub struct SideCopy {
    /// The groups, as counted then
    of: Vec<ShareCopy>,
    draw: Draw,
}

/// `one`: one individual of them all is the parent; `many`: young were drawn from all
#[derive(ToSchema)]
#[schema(rename_all = "snake_case")]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub enum Draw {
    One,
    Many,
}

/// So many fish of one group that may be a parent
#[derive(ToSchema)]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub struct ShareCopy {
    /// The breeders, or founders that nobody saw
    node: Uuid,
    /// How many of them there were then
    n: u32,
    /// Their weight in whole thousandths, where the keeper knows more than the numbers say
    weight: Option<u16>,
}

/// A group of breeders
#[derive(ToSchema)]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub struct BreedersCopy {
    /// The brood or founders they are of, or the breeders that they were split from
    of: Node,
    sex: Sex,
    /// How many there were, at most
    n: u32,
}

/// Founders
#[derive(ToSchema)]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub struct FoundersCopy {
    /// As kept
    species: Option<String>,
    /// Colour or fin form
    form: Option<String>,
    origin: Origin,
    related: Related,
    /// The year in which they were caught
    year: Option<String>,
    /// They stand for males that a female met before she came
    #[schema(required = false)]
    unseen: bool,
}

/// Where fish without recorded parents are from
#[derive(ToSchema)]
#[schema(rename_all = "snake_case")]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub enum Origin {
    Wild,
    Bought,
    Unknown,
}

/// Whether founders are related among themselves
#[derive(ToSchema)]
#[schema(rename_all = "snake_case")]
#[allow(dead_code, missing_docs, reason = "says what the answer holds")]
pub enum Related {
    Unrelated,
    Siblings,
    NotKnown,
}
