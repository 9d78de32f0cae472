//! Parcels: fish on their way from one room to another, as each room's stream tells its own side.

mod matching;
mod ops;
mod parcel;

pub use matching::{sent_rows, told_apart};
pub use ops::{
    OpenRow, Outcome, PackedRow, ParcelAgreed, ParcelArrived, ParcelHanded, ParcelMatched, ParcelPacked,
    ParcelRecalled, ParcelReceived, ParcelSent, ParcelSettled, rows_of,
};
pub use parcel::{
    Agreed, Arrival, ParcelEvent, ParcelRefusal, ParcelState, Received, Settled, StockStanding, fold_parcel,
    may_go, may_pack, total,
};
