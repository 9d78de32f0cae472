//! One club's season of our own invention, played through the real client and the real server. The demo tells it
//! step by step; the season test plays it on both engines. People, club, rooms and fish are invented.
//!
//! The clock begins 112 days ago and ends at the present, by shifting it for server and clients alike.

mod breeding;
mod club;
mod handing;
mod recall;
mod rooms;
mod signing;
mod swapping;

use crate::database::Database;
use crate::engine::Engine;
use crate::keeper::Keeper;
use crate::process::Ran;
use crate::server::Server;

/// What everybody in it signs in with.
pub const PASSWORD: &str = "eleven herons on the weir";
/// The club.
pub const CLUB: &str = "Thornwick Fishkeepers";

/// The season while it is played.
pub struct Season {
    /// The server, on a database of its own.
    pub server: Server,
    /// Secretary and health steward; keeps no fish that the story hands on.
    pub odile: Keeper,
    /// Breeds in the boiler room; also a health steward, and a party to what she gives.
    pub marta: Keeper,
    /// The same Marta, on the phone in the fish room.
    pub phone: Keeper,
    /// Takes the young into his attic; also a health steward, and never of his own fish.
    pub jonas: Keeper,
    /// The same Jonas, on an old tablet that is seldom near a network.
    pub tablet: Keeper,
    /// The parcel's id, once it is packed.
    parcel: String,
    say: fn(&str),
    step: usize,
}

impl Season {
    /// Plays it from the first day to the last. `say` is told each step in a line.
    ///
    /// # Panics
    /// When a step does not give what it should.
    pub fn play(engine: Engine, say: fn(&str)) -> Self {
        let mut season = Self {
            server: Server::prepare(Database::new(engine)),
            odile: Keeper::new("odile"),
            marta: Keeper::new("marta"),
            phone: Keeper::new("phone"),
            jonas: Keeper::new("jonas"),
            tablet: Keeper::new("tablet"),
            parcel: String::new(),
            say,
            step: 0,
        };
        season.day(0);
        club::founded(&mut season);
        rooms::recorded_offline(&mut season);
        rooms::on_two_devices(&mut season);
        handing::young_found(&mut season);
        handing::too_young(&mut season);
        breeding::colony_spawns(&mut season);
        breeding::came_in_mated(&mut season);
        handing::handed_over(&mut season);
        handing::renamed(&mut season);
        signing::a_sign(&mut season);
        signing::too_early(&mut season);
        signing::signed(&mut season);
        recall::recalled(&mut season);
        recall::signed_again(&mut season);
        swapping::swapped(&mut season);
        season.checked();
        season
    }

    /// Goes on to a day of the season: 0 is 112 days ago, 112 the present.
    fn day(&mut self, day: u32) {
        let back = 112 - day;
        let offset = (back > 0).then(|| format!("-{back}d"));
        self.server.stop();
        self.server.set_clock(offset.as_deref().unwrap_or("0d"));
        self.server.start_again();
        for keeper in [&mut self.odile, &mut self.marta, &mut self.phone, &mut self.jonas, &mut self.tablet] {
            keeper.set_clock(offset.clone());
        }
    }

    /// Jonas looks at all his fish on these days and syncs, as the rule wants it at least every seven.
    fn looks(&mut self, days: &[u32]) {
        for day in days {
            self.day(*day);
            self.jonas.done(&["look", "done", "--all", "--remark", "all feeding"]);
            self.jonas.done(&["sync"]);
        }
    }

    /// Tells a step.
    fn tell(&mut self, what: &str) {
        self.step += 1;
        (self.say)(&format!("{:>3}. {what}", self.step));
    }

    /// The address of the server.
    pub fn url(&self) -> String {
        self.server.url("")
    }

    /// At the end every row fits its stream, and every device of a room has the server's bytes.
    fn checked(&mut self) {
        self.server.command(&["check"]).expect(0);
        self.phone.done(&["sync"]);
        self.marta.done(&["sync"]);
        let (desk, phone) = (self.marta.done(&["state", "--json"]), self.phone.done(&["state", "--json"]));
        assert_eq!(desk.stdout, phone.stdout, "both devices hold the same bytes");
        self.tell("Every row on the server fits its stream; Marta's two devices hold the same bytes.");
    }
}

/// Fails unless the command was refused (exit 1) with these words.
#[track_caller]
fn refused(ran: &Ran, words: &str) {
    assert_eq!(ran.code, Some(1), "{ran}");
    let all = format!("{}{}", ran.stdout, ran.stderr);
    assert!(all.contains(words), "it should say {words:?}: {ran}");
}
