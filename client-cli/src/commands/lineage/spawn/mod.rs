//! `tarn spawn …`: the steps of a spawning. Any may be the first; each finds the spawning that it continues.

mod begun;
mod candidates;
mod eggs;
mod ended;
mod list;
pub mod which;

crate::commands::verbs! {
    /// `tarn spawn …`
    Spawn {
        /// Fish were put together to spawn
        SetUp(begun::SetUp),
        /// They spawned
        Seen(begun::Seen),
        /// A livebearer dropped her young
        Drop(begun::Drop),
        /// Eggs were collected: makes a brood and a stock of eggs, or adds to a brood
        Eggs(eggs::Eggs),
        /// The eggs were looked at: how many were laid, how many have fungus
        Checked(eggs::Checked),
        /// Eggs hatched
        Hatched(eggs::Hatched),
        /// The young swim free
        Swimming(ended::Swimming),
        /// Nothing comes of it
        Failed(ended::Failed),
        /// The spawnings that are under way
        List(list::List),
        /// Who may be the parents of what was found in a tank
        Candidates(candidates::Candidates),
    }
}
