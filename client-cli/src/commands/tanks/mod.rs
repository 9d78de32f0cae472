//! Tanks.

mod add;
mod describe;
mod emptied;
mod hang;
mod list;
mod plumb;

super::verbs! {
    /// `tarn tank …`
    Tank {
        /// A new tank
        Add(add::Add),
        /// Change a tank's name, place or size
        Describe(describe::Describe),
        /// Which water system a tank is on
        Plumb(plumb::Plumb),
        /// In which tank a box hangs
        Hang(hang::Hang),
        /// All the water is out of a tank or system
        Emptied(emptied::Emptied),
        /// The tanks
        List(list::List),
    }
}
