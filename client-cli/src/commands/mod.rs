//! The commands: a folder for each area, a file for each verb. A command reads its arguments, asks the store and the
//! domain, records, and tells. No command knows SQLite or HTTP.

mod accounts;
mod arguments;
mod clubs;
mod lineage;
mod logs;
mod parcels;
mod quarantine;
mod rooms;
mod stocks;
mod streams;
mod systems;
mod tanks;
mod water;

use clap::Subcommand;

use crate::failure::Outcome;
use crate::tarn::Tarn;

/// What `tarn` can do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Rooms: create, list, use, show
    #[command(subcommand)]
    Room(rooms::Room),
    /// Water systems: tanks that share water
    #[command(subcommand)]
    System(systems::System),
    /// Tanks: add, describe, plumb, list
    #[command(subcommand)]
    Tank(tanks::Tank),
    /// Fish managed together
    #[command(subcommand)]
    Stock(stocks::Stock),
    /// Food given
    #[command(subcommand)]
    Food(logs::Food),
    /// The water: readings, what they mean, how much there is, a label's rate
    #[command(subcommand)]
    Water(water::Water),
    /// Signs that something is wrong
    #[command(subcommand)]
    Sign(logs::Sign),
    /// Treatments of a water
    #[command(subcommand)]
    Treatment(logs::Treatment),
    /// Failures of heater, pump, power, and what they cost
    #[command(subcommand)]
    Incident(logs::Incident),
    /// Looks at the fish
    #[command(subcommand)]
    Look(logs::Look),
    /// Work on tanks and systems
    #[command(subcommand)]
    Job(logs::Job),
    /// Notes
    #[command(subcommand)]
    Note(logs::Note),
    /// That was wrong: takes back the last entry, or the one named
    Wrong(streams::wrong::Wrong),
    /// Blanks words of an entry for good, on every device
    Redact(streams::redact::Redact),
    /// What was recorded, the latest first
    History(streams::history::History),
    /// What the records contradict themselves in: to put right
    Findings(rooms::findings::Findings),
    /// Spawnings, step by step: set up, seen, eggs, hatched
    #[command(subcommand)]
    Spawn(lineage::Spawn),
    /// Young found: makes a brood
    #[command(subcommand)]
    Young(lineage::Young),
    /// Broods
    #[command(subcommand)]
    Brood(lineage::Brood),
    /// Lines: populations that are kept apart
    #[command(subcommand)]
    Line(lineage::Line),
    /// Stock lists that keepers publish
    #[command(subcommand)]
    List(lineage::List),
    /// Fish on their way to or from another room
    #[command(subcommand)]
    Parcel(parcels::Parcel),
    /// Notices on your clubs' boards, and replies to them (needs a network)
    #[command(subcommand)]
    Notice(parcels::Notice),
    /// Agreed exchanges with other keepers (needs a network)
    #[command(subcommand)]
    Swap(parcels::Swap),
    /// Fish on the quarantine clock
    #[command(subcommand)]
    Quarantine(quarantine::Quarantine),
    /// Your clubs
    #[command(subcommand)]
    Club(clubs::Club),
    /// Log in to a server
    Login(accounts::login::Login),
    /// Accept an invitation: makes your account
    Join(accounts::join::Join),
    /// End the session; the records stay here
    Logout(accounts::logout::Logout),
    /// Push what is only here, pull what is new
    Sync(streams::sync::Sync),
    /// The room's whole state, canonically (RFC 8785)
    State(streams::state::State),
    /// Write the room into a folder in open formats
    Export(streams::export::Export),
    /// Take a folder that was exported back into its room, or to another server
    Import(streams::import::Import),
    /// Take in a spreadsheet of stock, as CSV
    ImportStock(rooms::import_stock::ImportStock),
    /// Completions for a shell
    Completions(streams::completions::Completions),
    /// Man pages
    Man(streams::man::Man),
}

impl Command {
    /// Runs it.
    ///
    /// # Errors
    /// Why it could not.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        match self {
            Self::Room(c) => c.run(tarn),
            Self::System(c) => c.run(tarn),
            Self::Tank(c) => c.run(tarn),
            Self::Stock(c) => c.run(tarn),
            Self::Food(c) => c.run(tarn),
            Self::Water(c) => c.run(tarn),
            Self::Sign(c) => c.run(tarn),
            Self::Treatment(c) => c.run(tarn),
            Self::Incident(c) => c.run(tarn),
            Self::Look(c) => c.run(tarn),
            Self::Job(c) => c.run(tarn),
            Self::Note(c) => c.run(tarn),
            Self::Wrong(c) => c.run(tarn),
            Self::Redact(c) => c.run(tarn),
            Self::History(c) => c.run(tarn),
            Self::Findings(c) => c.run(tarn),
            Self::Spawn(c) => c.run(tarn),
            Self::Young(c) => c.run(tarn),
            Self::Brood(c) => c.run(tarn),
            Self::Line(c) => c.run(tarn),
            Self::List(c) => c.run(tarn),
            Self::Parcel(c) => c.run(tarn),
            Self::Notice(c) => c.run(tarn),
            Self::Swap(c) => c.run(tarn),
            Self::Quarantine(c) => c.run(tarn),
            Self::Club(c) => c.run(tarn),
            Self::Login(c) => c.run(tarn),
            Self::Join(c) => c.run(tarn),
            Self::Logout(c) => c.run(tarn),
            Self::Sync(c) => c.run(tarn),
            Self::State(c) => c.run(tarn),
            Self::Export(c) => c.run(tarn),
            Self::Import(c) => c.run(tarn),
            Self::ImportStock(c) => c.run(tarn),
            Self::Completions(c) => c.run(),
            Self::Man(c) => c.run(),
        }
    }
}

/// A noun with its verbs, each in a file of its own.
macro_rules! verbs {
    ($(#[$doc:meta])* $noun:ident { $($(#[$vdoc:meta])* $verb:ident($type:ty),)* }) => {
        $(#[$doc])*
        #[derive(Debug, clap::Subcommand)]
        #[allow(clippy::large_enum_variant, reason = "one is made in a run, from what was typed")]
        pub enum $noun { $($(#[$vdoc])* $verb($type),)* }

        impl $noun {
            /// Runs the verb.
            ///
            /// # Errors
            /// Why it could not.
            pub fn run(self, tarn: &mut $crate::tarn::Tarn) -> $crate::failure::Outcome {
                match self { $(Self::$verb(verb) => verb.run(tarn),)* }
            }
        }
    };
}
pub(crate) use verbs;
