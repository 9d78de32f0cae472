//! Parcels: fish on their way from one room to another, as each room's stream tells its own side; and what leads to
//! one, notices and swaps, which are the server's rows.

mod notice;
mod ops;
mod parcel;
mod price;
mod swap;

pub use notice::{
    Fault, MOST_NAME, MOST_TEXT, NoticeKind, NoticeSays, cautions, is_line, is_prose, numbers_fault,
    spread_of,
};
pub use ops::{PackedRow, ParcelArrived, ParcelHanded, ParcelPacked, ParcelRecalled, ParcelSent, rows_of};
pub use parcel::{ParcelEvent, ParcelRefusal, ParcelState, StockStanding, fold_parcel, may_go, may_pack};
pub use price::{NotAPrice, Price};
pub use swap::{ANSWER_DAYS, SwapAct, SwapRefusal, SwapSide, SwapState, after};
