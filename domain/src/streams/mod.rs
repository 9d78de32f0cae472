//! Streams: the envelope, clocks, order, liveness, history. Knows no area and no meaning of any op.

mod by;
pub mod canonical;
pub mod cells;
mod envelope;
mod ids;
mod links;
mod liveness;
mod patch;
mod plain;
mod push;
mod receipt;
mod time;
mod touch;
mod withdrawn;

pub use by::By;
pub use canonical::{Acceptance, Chain, OpDigest, OpText};
pub use envelope::{Envelope, LARGEST_OP, NotAnOp, Read, read, read_fields};
pub use ids::{
    AccountId, ClubId, DeviceId, EpochId, LinkId, NodeId, NotAnId, OpId, ParcelId, SpawningId, StockId,
    StreamId, SystemId, TankId, TreatmentId, UnitId, parse_uuid,
};
pub use links::{Entity, EntityKind, Links};
pub use liveness::{Linked, Order, Shelf, is_withdrawn, maker, settle, unsettle};
pub use patch::Patch;
pub use plain::{is_plain, read_plain, read_plain_fields};
pub use push::{
    AHEAD_LIMIT_MS, LARGEST_PULL, LARGEST_PUSH_BYTES, LARGEST_PUSH_OPS, clock_limit, next_received,
};
pub use receipt::{receipt, receipt_holds, voucher, voucher_holds};
pub use time::{At, Clock, Days, NotATime, Received};
pub use touch::{Standing, Touch, is_sorted, sort, touch};
pub use withdrawn::{Adopted, Redacted, Withdrawn};
