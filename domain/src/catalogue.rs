//! The catalogue: every kind of op, who writes it, and what it says of which thing. The one place in `domain`
//! that names every area's ops.

mod history;
mod personal;

pub use personal::{BLANKED, blanked, personal};

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;
use serde_json::{Map, Value};

use crate::lineage::{
    BroodCorrected, BroodRenamed, BroodTold, EggsChecked, EggsCollected, EggsHatched, HistoryTold,
    SpawningFailed, Together, YoungFound, YoungSwam,
};
use crate::parcels::{
    HistoryMatched, HistorySent, ParcelAgreed, ParcelArrived, ParcelHanded, ParcelMatched, ParcelPacked,
    ParcelRecalled, ParcelReceived, ParcelSent, ParcelSettled,
};
use crate::quarantine::{
    HomeClubSet, LossJudged, QuarantineCleared, QuarantineRecalled, QuarantineRestarted, QuarantineWaived,
    RoomRuleSet, RuleAdopted,
};
use crate::rooms::Names;
use crate::rooms::ops::{
    FoodGiven, Founders, HistoryDecided, HistoryTakenIn, IncidentSeen, JobDone, LookDone, NoteWritten,
    SignSeen, StockCameIn, StockCounted, StockDescribed, StockEstablished, StockLeft, StockLost, StockMerged,
    StockMoved, StockSexed, StockSplit, SystemJoined, SystemSet, TankAdded, TankDescribed, TankEmptied,
    TankHung, TankPlumbed, TreatmentBegan, TreatmentEnded, WaterLogged, WaterRead,
};
use crate::streams::{
    Adopted, Envelope, LARGEST_OP, Links, NotAnOp, Read, Redacted, Withdrawn, read, read_fields, read_plain,
    read_plain_fields,
};

/// Rises whenever a kind or a field is added.
pub const OPS_VERSION: u32 = 7;

/// Rises whenever the same ops fold to another state or other projections.
pub const FOLD_VERSION: i32 = 4;

/// Who writes an op of a kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Writer {
    /// A person: what they saw.
    Claim,
    /// The server: what follows.
    Decision,
}

/// Kinds that are new and may still change. All others never do: what would mean something else is a new kind.
const OPEN: &[&str] = &[
    "history.decided",
    "history.matched",
    "history.sent",
    "history.taken_in",
    "history.told",
    "op.adopted",
    "op.redacted",
    "water.logged",
];

/// What somebody with a link to a room may write: what was done and seen on the round, and losses.
const FOR_HELPERS: &[&str] =
    &["food.given", "job.done", "look.done", "sign.seen", "stock.lost", "water.read"];

/// Whether somebody with a link to a room may write ops of a kind.
pub fn is_for_helpers(kind: &str) -> bool {
    FOR_HELPERS.contains(&kind)
}

/// What a probe with a token of its own may write. Who reads a water by hand writes `water.read`.
const FOR_PROBES: &[&str] = &["water.logged"];

/// Whether a probe may write ops of a kind.
pub fn is_for_probes(kind: &str) -> bool {
    FOR_PROBES.contains(&kind)
}

/// Whether the meaning of a kind can never change again.
pub fn is_frozen(kind: &str) -> bool {
    !OPEN.contains(&kind)
}

macro_rules! kinds {
    ($($word:literal $variant:ident($type:ty) $area:literal $writer:ident;)*) => {
        /// The body of an op.
        #[derive(Debug, Clone, PartialEq, Eq)]
        pub enum Body {
            $(#[doc = $word] $variant($type),)*
        }

        impl Body {
            /// The word in the op's `op` field.
            pub fn kind(&self) -> &'static str {
                match self { $(Self::$variant(_) => $word),* }
            }

            /// What it refers to, makes and changes.
            pub fn links(&self) -> Links {
                match self { $(Self::$variant(body) => body.links()),* }
            }

            /// Reads the fields of a body of a kind.
            ///
            /// # Errors
            /// An unknown kind or field, or a wrong value, by field.
            pub fn decode(kind: &str, fields: Map<String, Value>) -> Result<Self, NotAnOp> {
                match kind {
                    $($word => read_fields::<$type>(kind, fields).map(Self::$variant),)*
                    _ => Err(NotAnOp::Unknown { what: format!("the kind {kind:?}") }),
                }
            }

            /// Reads a body of a kind from a text that is canonical. None: look closer.
            fn decode_plain(kind: &str, text: &str) -> Option<Self> {
                match kind {
                    $($word => read_plain_fields::<$type>(text).map(Self::$variant),)*
                    _ => None,
                }
            }

            /// The body as JSON, its kind in the field `op`.
            pub fn to_value(&self) -> Value {
                let fields = match self { $(Self::$variant(body) => serde_json::to_value(body)),* };
                let Ok(Value::Object(mut fields)) = fields else { unreachable!("every body is an object") };
                fields.insert("op".into(), self.kind().into());
                Value::Object(fields)
            }
        }

        /// Every kind, with its area, who writes it and the schema of its fields.
        pub fn kinds() -> Vec<Kind> {
            vec![$(Kind { kind: $word, area: $area, written_by: Writer::$writer, frozen: is_frozen($word), personal: personal($word), fields: schema::<$type>() }),*]
        }

        /// Whether a kind is known, and who writes it.
        pub fn writer(kind: &str) -> Option<Writer> {
            match kind { $($word => Some(Writer::$writer),)* _ => None }
        }
    };
}

kinds! {
    "water.system_set" SystemSet(SystemSet) "rooms" Claim;
    "tank.added" TankAdded(TankAdded) "rooms" Claim;
    "tank.described" TankDescribed(TankDescribed) "rooms" Claim;
    "tank.plumbed" TankPlumbed(TankPlumbed) "rooms" Claim;
    "tank.hung" TankHung(TankHung) "rooms" Claim;
    "tank.emptied" TankEmptied(TankEmptied) "rooms" Claim;
    "water.system_joined" SystemJoined(SystemJoined) "rooms" Claim;
    "treatment.began" TreatmentBegan(TreatmentBegan) "rooms" Claim;
    "treatment.ended" TreatmentEnded(TreatmentEnded) "rooms" Claim;
    "stock.established" StockEstablished(StockEstablished) "rooms" Claim;
    "stock.came_in" StockCameIn(StockCameIn) "rooms" Claim;
    "stock.described" StockDescribed(StockDescribed) "rooms" Claim;
    "stock.moved" StockMoved(StockMoved) "rooms" Claim;
    "stock.split" StockSplit(StockSplit) "rooms" Claim;
    "stock.merged" StockMerged(StockMerged) "rooms" Claim;
    "stock.counted" StockCounted(StockCounted) "rooms" Claim;
    "stock.sexed" StockSexed(StockSexed) "rooms" Claim;
    "stock.lost" StockLost(StockLost) "rooms" Claim;
    "stock.left" StockLeft(StockLeft) "rooms" Claim;
    "food.given" FoodGiven(FoodGiven) "rooms" Claim;
    "water.read" WaterRead(WaterRead) "rooms" Claim;
    "water.logged" WaterLogged(WaterLogged) "rooms" Claim;
    "sign.seen" SignSeen(SignSeen) "rooms" Claim;
    "look.done" LookDone(LookDone) "rooms" Claim;
    "incident.seen" IncidentSeen(IncidentSeen) "rooms" Claim;
    "job.done" JobDone(JobDone) "rooms" Claim;
    "note.written" NoteWritten(NoteWritten) "rooms" Claim;
    "history.decided" HistoryDecided(HistoryDecided) "rooms" Decision;
    "history.taken_in" HistoryTakenIn(HistoryTakenIn) "rooms" Decision;
    "op.withdrawn" Withdrawn(Withdrawn) "streams" Claim;
    "op.redacted" Redacted(Redacted) "streams" Decision;
    "op.adopted" Adopted(Adopted) "streams" Decision;
    "pair.set_up" PairSetUp(Together) "lineage" Claim;
    "spawn.seen" SpawnSeen(Together) "lineage" Claim;
    "drop.seen" DropSeen(Together) "lineage" Claim;
    "eggs.collected" EggsCollected(EggsCollected) "lineage" Claim;
    "eggs.checked" EggsChecked(EggsChecked) "lineage" Claim;
    "eggs.hatched" EggsHatched(EggsHatched) "lineage" Claim;
    "young.found" YoungFound(YoungFound) "lineage" Claim;
    "young.swam" YoungSwam(YoungSwam) "lineage" Claim;
    "spawning.failed" SpawningFailed(SpawningFailed) "lineage" Claim;
    "brood.corrected" BroodCorrected(BroodCorrected) "lineage" Claim;
    "brood.renamed" BroodRenamed(BroodRenamed) "lineage" Claim;
    "brood.told" BroodTold(BroodTold) "lineage" Decision;
    "history.told" HistoryTold(HistoryTold) "lineage" Decision;
    "history.sent" HistorySent(HistorySent) "parcels" Decision;
    "history.matched" HistoryMatched(HistoryMatched) "parcels" Decision;
    "parcel.packed" ParcelPacked(ParcelPacked) "parcels" Claim;
    "parcel.handed" ParcelHanded(ParcelHanded) "parcels" Claim;
    "parcel.arrived" ParcelArrived(ParcelArrived) "parcels" Claim;
    "parcel.sent" ParcelSent(ParcelSent) "parcels" Decision;
    "parcel.matched" ParcelMatched(ParcelMatched) "parcels" Decision;
    "parcel.received" ParcelReceived(ParcelReceived) "parcels" Decision;
    "parcel.settled" ParcelSettled(ParcelSettled) "parcels" Decision;
    "parcel.agreed" ParcelAgreed(ParcelAgreed) "parcels" Decision;
    "rule.adopted" RuleAdopted(RuleAdopted) "quarantine" Decision;
    "home_club.set" HomeClubSet(HomeClubSet) "quarantine" Decision;
    "room_rule.set" RoomRuleSet(RoomRuleSet) "quarantine" Claim;
    "quarantine.restarted" QuarantineRestarted(QuarantineRestarted) "quarantine" Claim;
    "quarantine.recalled" QuarantineRecalled(QuarantineRecalled) "quarantine" Decision;
    "parcel.recalled" ParcelRecalled(ParcelRecalled) "parcels" Decision;
    "quarantine.waived" QuarantineWaived(QuarantineWaived) "quarantine" Decision;
    "loss.judged" LossJudged(LossJudged) "quarantine" Decision;
    "quarantine.cleared" QuarantineCleared(QuarantineCleared) "quarantine" Decision;
}

/// One kind of op, as the published catalogue has it.
#[derive(Debug, Clone, Serialize)]
pub struct Kind {
    /// The word in the op's `op` field.
    pub kind: &'static str,
    /// The area that owns it.
    pub area: &'static str,
    /// Who writes it.
    pub written_by: Writer,
    /// Whether its meaning can never change again.
    pub frozen: bool,
    /// Those of its fields that may name or describe a person: they can be blanked, and no fold reads them.
    pub personal: &'static [&'static str],
    /// The JSON Schema of its fields.
    pub fields: Schema,
}

fn schema<T: JsonSchema>() -> Schema {
    schema_for!(T)
}

/// The published catalogue: `openapi/ops.json`.
pub fn published() -> Value {
    serde_json::json!({
        "ops_version": OPS_VERSION,
        "fold_version": FOLD_VERSION,
        "for_helpers": FOR_HELPERS,
        "kinds": kinds(),
    })
}

impl Body {
    /// What was measured of a water, by hand or by a probe, of which it is the means.
    pub fn water(&self) -> Option<Cow<'_, WaterRead>> {
        match self {
            Self::WaterRead(read) => Some(Cow::Borrowed(read)),
            Self::WaterLogged(logged) => Some(Cow::Owned(logged.means())),
            _ => None,
        }
    }

    /// Who writes ops of its kind.
    pub fn writer(&self) -> Writer {
        writer(self.kind()).unwrap_or(Writer::Claim)
    }

    /// The founders that it brings, if it brings any.
    pub fn founders(&self) -> Option<&Founders> {
        match self {
            Self::StockEstablished(b) => b.founders.as_ref(),
            Self::StockCameIn(b) => Some(&b.founders),
            _ => None,
        }
    }

    /// The ops that a decision rests on; they can no longer be withdrawn.
    pub fn relies(&self) -> &[crate::streams::OpId] {
        match self {
            Self::ParcelSent(b) => &b.relies,
            Self::ParcelMatched(b) => &b.relies,
            Self::ParcelSettled(b) => &b.relies,
            Self::ParcelAgreed(b) => &b.relies,
            Self::RuleAdopted(b) => &b.relies,
            Self::HomeClubSet(b) => &b.relies,
            Self::QuarantineCleared(b) => &b.relies,
            Self::QuarantineWaived(b) => &b.relies,
            Self::LossJudged(b) => &b.relies,
            _ => &[],
        }
    }
}

/// An op of a room.
pub type Op = Envelope<Body>;

/// Reads an op from JSON.
///
/// # Errors
/// What is wrong, by field.
pub fn read_op(value: Value) -> Result<Read<Body>, NotAnOp> {
    read(value, LARGEST_OP, Body::decode)
}

/// Reads an op that was accepted once: stored, pulled, or coming back with its receipt. It may be larger than what
/// people may push, since a decision lists all that it rests on.
///
/// # Errors
/// What is wrong, by field.
pub fn read_accepted(value: Value) -> Result<Read<Body>, NotAnOp> {
    read(value, usize::MAX, Body::decode)
}

/// Reads an op from its JSON text. A text that is canonical, as clients write it, is not taken apart twice.
///
/// # Errors
/// What is wrong, by field.
pub fn read_op_text(text: &str) -> Result<Read<Body>, NotAnOp> {
    read_text(text, read_op)
}

/// The same for an op that was accepted once.
///
/// # Errors
/// What is wrong, by field.
pub fn read_accepted_text(text: &str) -> Result<Read<Body>, NotAnOp> {
    read_text(text, read_accepted)
}

fn read_text(
    text: &str,
    otherwise: impl Fn(Value) -> Result<Read<Body>, NotAnOp>,
) -> Result<Read<Body>, NotAnOp> {
    if let Some(op) = read_plain(text, Body::decode_plain) {
        return Ok(Read { op, text: text.to_owned() });
    }
    otherwise(serde_json::from_str(text).map_err(|e| NotAnOp::malformed("", format!("no JSON: {e}")))?)
}

/// The canonical text of an op.
pub fn op_text(op: &Op) -> String {
    let value = serde_json::json!({
        "id": op.id, "device": op.device, "clock": op.clock, "at": op.at, "body": op.body.to_value(),
    });
    crate::streams::canonical::text(&value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn helpers_write_logs_and_losses_and_decide_nothing() {
        for kind in FOR_HELPERS {
            assert_eq!(writer(kind), Some(Writer::Claim), "{kind}");
        }
        let area = |of: &str| kinds().into_iter().find(|kind| kind.kind == of).map(|kind| kind.area);
        assert!(FOR_HELPERS.iter().all(|kind| area(kind) == Some("rooms")));
        for kind in ["op.withdrawn", "stock.moved", "stock.left", "parcel.packed", "quarantine.cleared"] {
            assert!(!is_for_helpers(kind), "{kind}");
        }
    }
}
