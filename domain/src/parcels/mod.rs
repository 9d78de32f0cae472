//! Parcels: fish on their way from one room to another, as each room's stream tells its own side; and what leads to
//! one, notices and swaps, which are the server's rows.

mod event;
mod history;
mod matching;
mod notice;
mod ops;
mod parcel;
mod price;
mod swap;

pub use event::ParcelEvent;
pub use history::{HistoryMatched, HistorySent};
pub use matching::{sent_rows, told_apart};
pub use notice::{
    Fault, MOST_NAME, MOST_TEXT, NoticeKind, NoticeSays, cautions, is_line, is_prose, numbers_fault,
    spread_of,
};
pub use ops::{
    OpenRow, Outcome, PackedRow, ParcelAgreed, ParcelArrived, ParcelHanded, ParcelMatched, ParcelPacked,
    ParcelRecalled, ParcelReceived, ParcelSent, ParcelSettled, rows_of,
};
pub use parcel::{
    Agreed, Arrival, ParcelRefusal, ParcelState, Received, Settled, StockStanding, fold_parcel, may_go,
    may_pack, total,
};
pub use price::{NotAPrice, Price};
pub use swap::{ANSWER_DAYS, SwapAct, SwapRefusal, SwapSide, SwapState, after};
