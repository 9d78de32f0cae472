//! Tanks.

mod add;
mod describe;
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
        /// The tanks
        List(list::List),
    }
}
