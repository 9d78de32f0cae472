//! Water systems.

mod join;
mod list;
mod set;

super::verbs! {
    /// `tarn system …`
    System {
        /// A water system, new or changed
        Set(set::Set),
        /// Share another system's water, or no longer
        Join(join::Join),
        /// The water systems and their tanks
        List(list::List),
    }
}
