//! Parcels: fish on their way from one room to another; and what leads to one, notices and swaps, which need a network.

mod agree;
mod arrive;
mod copied;
mod hand;
mod list;
mod notice;
mod online;
mod pack;
mod settle;
mod show;
mod slip;
mod swap;

pub use notice::Notice;
pub use swap::Swap;

super::verbs! {
    /// `tarn parcel …`
    Parcel {
        /// Fish are in the bag for another keeper
        Pack(pack::Pack),
        /// The bag left
        Hand(hand::Hand),
        /// A bag came
        Arrive(arrive::Arrive),
        /// The parcels of this room
        List(list::List),
        /// One parcel
        Show(show::Show),
        /// The packing slip, to go with a bag to a keeper on another server
        Slip(slip::Take),
        /// Parcels of your club that nobody closed
        Overdue(settle::Overdue),
        /// What became of such a parcel, as an officer
        Settle(settle::Settle),
        /// Fish in quarantine may leave in one parcel, as a health steward
        Agree(agree::Agree),
    }
}
