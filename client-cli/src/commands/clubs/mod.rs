//! Clubs: needs a network.

mod invite;
mod list;
mod rule;
mod r#use;

pub use list::club_id;

super::verbs! {
    /// `tarn club …`
    Club {
        /// Your account, clubs and roles
        List(list::List),
        /// Make a club the home club of the room
        Use(r#use::Use),
        /// Invite somebody (a secretary's)
        Invite(invite::Invite),
        /// Adopt a quarantine rule (a secretary's)
        Rule(rule::Rule),
    }
}
