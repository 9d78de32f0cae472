//! Water systems.

mod list;
mod set;

super::verbs! {
    /// `tarn system …`
    System {
        /// A water system, new or changed
        Set(set::Set),
        /// The water systems and their tanks
        List(list::List),
    }
}
