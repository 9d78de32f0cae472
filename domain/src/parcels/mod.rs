//! Parcels: fish on their way from one room to another, as each room's stream tells its own side.

mod ops;
mod parcel;

pub use ops::{PackedRow, ParcelArrived, ParcelHanded, ParcelPacked, ParcelRecalled, ParcelSent, rows_of};
pub use parcel::{ParcelEvent, ParcelRefusal, ParcelState, StockStanding, fold_parcel, may_go, may_pack};
