//! Parcels: fish on their way from one room to another.

mod arrive;
mod copied;
mod hand;
mod list;
mod pack;
mod show;
mod slip;

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
    }
}
