//! Rooms, and what goes over a whole room.

mod create;
pub mod findings;
pub mod import_stock;
mod keeper;
mod link;
mod list;
mod publish;
mod sheet;
mod show;
mod r#use;

super::verbs! {
    /// `tarn room …`
    Room {
        /// A new room; works without a network
        Create(create::Create),
        /// The rooms on this device
        List(list::List),
        /// Use a room from now on
        Use(r#use::Use),
        /// A room at a glance
        Show(show::Show),
        /// Let another account keep the room with you (needs a network)
        AddKeeper(keeper::AddKeeper),
        /// Links for who helps without an account (needs a network)
        #[command(subcommand)]
        Helper(link::Helper),
        /// Publish the stock that may leave, or take the list back (needs a network)
        Publish(publish::Publish),
    }
}
