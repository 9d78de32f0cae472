//! Lineage: spawnings, young found, and the broods they make.

mod correct;
mod found;
mod groups;
mod known;
mod list;
mod lists;
mod naming;
mod parents;
mod rename;
mod show;
mod spawn;
mod which_brood;

pub use groups::Line;
pub use lists::List;
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
        /// Its parents are others than was said
        Correct(correct::Correct),
        /// It is something else than was thought, or is called otherwise
        Rename(rename::Rename),
    }
}
