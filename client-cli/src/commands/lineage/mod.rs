//! Lineage: spawnings, young found, and the broods they make.

mod found;
mod list;
mod parents;
mod show;
mod spawn;

pub use spawn::Spawn;

super::verbs! {
    /// `tarn young …`
    Young {
        /// Young were found: makes a brood and its stock
        Found(found::Found),
    }
}
super::verbs! {
    /// `tarn brood …`
    Brood {
        /// The broods
        List(list::List),
        /// One brood
        Show(show::Show),
    }
}
