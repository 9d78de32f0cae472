//! Rooms, and what goes over a whole room.

mod caretaker;
mod create;
pub mod findings;
mod give_up;
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
        /// Name who acts for you in illness or death (needs a network)
        Caretaker(caretaker::Caretaker),
        /// Act as caretaker of a room (needs a network)
        TakeOver(caretaker::TakeOver),
        /// Give the room up on the server, for good (needs a network)
        GiveUp(give_up::GiveUp),
    }
}
