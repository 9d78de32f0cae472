//! What ops say of a parcel, as its fold takes it: alike whether a thing was decided here or while the room was kept on
//! another server.

use super::history::{HistoryMatched, HistorySent};
use super::ops::{
    PackedRow, ParcelAgreed, ParcelArrived, ParcelHanded, ParcelMatched, ParcelPacked, ParcelReceived,
    ParcelSent, ParcelSettled,
};
use crate::lineage::Ancestor;
use crate::rooms::Row;
use crate::streams::AccountId;

/// What an op says of a parcel.
#[derive(Debug, Clone, Copy)]
pub enum ParcelEvent<'a> {
    /// Packed.
    Packed(&'a ParcelPacked),
    /// The bag left.
    Handed(&'a ParcelHanded),
    /// It was decided that it left.
    Sent(Sent<'a>),
    /// It came here.
    Arrived(&'a ParcelArrived),
    /// It is the one that another room sent.
    Matched(Matched<'a>),
    /// What came of it, by the receiver.
    Received(&'a ParcelReceived),
    /// An officer settled what was open.
    Settled(&'a ParcelSettled),
    /// A steward lets fish in quarantine go in it.
    Agreed(&'a ParcelAgreed),
    /// The sign-off under which it left was recalled.
    Recalled,
}

/// That a parcel left, decided here or while the room was kept on another server.
#[derive(Debug, Clone, Copy)]
pub struct Sent<'a> {
    pub(super) to: Option<AccountId>,
    pub(super) rows: &'a [PackedRow],
    pub(super) ancestry: &'a [Ancestor],
    pub(super) elsewhere: bool,
}

impl<'a> From<&'a ParcelSent> for Sent<'a> {
    fn from(b: &'a ParcelSent) -> Self {
        Self { to: b.to, rows: &b.rows, ancestry: &b.ancestry, elsewhere: false }
    }
}

impl<'a> From<&'a HistorySent> for Sent<'a> {
    fn from(b: &'a HistorySent) -> Self {
        Self { to: None, rows: &b.rows, ancestry: &b.ancestry, elsewhere: true }
    }
}

/// That the parcel that came is known, decided here or elsewhere.
#[derive(Debug, Clone, Copy)]
pub struct Matched<'a> {
    pub(super) sent: &'a [Row],
    pub(super) ancestry: &'a [Ancestor],
    pub(super) told_apart: &'a [Row],
    pub(super) elsewhere: bool,
}

impl<'a> From<&'a ParcelMatched> for Matched<'a> {
    fn from(b: &'a ParcelMatched) -> Self {
        Self { sent: &b.sent, ancestry: &b.ancestry, told_apart: &b.told_apart, elsewhere: false }
    }
}

impl<'a> From<&'a HistoryMatched> for Matched<'a> {
    fn from(b: &'a HistoryMatched) -> Self {
        Self { sent: &b.sent, ancestry: &b.ancestry, told_apart: &b.told_apart, elsewhere: true }
    }
}
