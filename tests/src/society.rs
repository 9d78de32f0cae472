//! A small society to test with: a club with its officers, keepers with rooms, and one who has nothing to do with it.

use crate::api::{Answer, Caller};
use crate::engine::Engine;
use crate::pen::{Pen, id, push};
use crate::people::{Club, Person};
use crate::server::Server;
use serde_json::{Value, json};

/// A server with people on it.
pub struct Society {
    /// The server.
    pub server: Server,
    /// Fellside Fishkeepers; its secretary is Wilma.
    pub club: Club,
    /// Keeps `room`.
    pub ada: Person,
    /// Keeps `room` with her.
    pub ben: Person,
    /// Keeps `other_room`; in the club too.
    pub zoe: Person,
    /// Ada's and Ben's room; its stream has the same id.
    pub room: String,
    /// Zoe's.
    pub other_room: String,
    /// Ada's device in `room`.
    pub adas: Pen,
    /// Ben's.
    pub bens: Pen,
    /// Zoe's, in `other_room`.
    pub zoes: Pen,
    /// How many days have gone by.
    waited: i64,
}

impl Society {
    /// Makes it on a fresh server.
    pub fn new(engine: Engine) -> Self {
        Self::on(Server::start(engine))
    }

    /// Makes it on a server that runs.
    pub fn on(server: Server) -> Self {
        let club = Club::found(&server, "Fellside Fishkeepers", "wilma");
        let [ada, ben, zoe] = ["ada", "ben", "zoe"].map(|login| club.member(login, None));
        let (room, other_room) = (id(), id());
        for (keeper, room) in [(&ada, &room), (&zoe, &other_room)] {
            let made = json!({"id": room, "name": "Cellar", "zone": "UTC"});
            keeper.caller.post("/api/v1/rooms", &made).expect(201);
        }
        ada.caller.put(&format!("/api/v1/rooms/{room}/keepers/{}", ben.login), &json!({})).expect(204);
        // both were told; what else they are told is for the tests to see
        server.database().execute(&["DELETE FROM messages"]);
        let (adas, bens, zoes) = (Pen::new(), Pen::new(), Pen::new());
        register(&ada, &room, &adas).expect(200);
        register(&ben, &room, &bens).expect(200);
        register(&zoe, &other_room, &zoes).expect(200);
        Self { server, club, ada, ben, zoe, room, other_room, adas, bens, zoes, waited: 0 }
    }

    /// So many days go by, for the server, its clock and every pen; everybody signs in again.
    pub fn wait(&mut self, days: i64) {
        self.server.stop();
        self.waited += days;
        self.server.set_clock(&format!("{}d", self.waited));
        self.server.start_again();
        let at = self.stranger();
        for person in [&mut self.ada, &mut self.ben, &mut self.zoe, &mut self.club.secretary] {
            *person = person.sign_in(&at);
        }
        for pen in [&self.adas, &self.bens, &self.zoes] {
            pen.wait(days * 86_400_000);
        }
    }

    /// Someone who has not signed in.
    pub fn stranger(&self) -> Caller {
        Caller::stranger(&self.server)
    }

    /// The epoch of a room's stream, as one of its keepers sees it.
    #[track_caller]
    pub fn epoch(&self, keeper: &Person, room: &str) -> String {
        let streams = keeper.caller.get("/api/v1/streams").expect(200).json();
        let mine = streams["streams"].as_array().into_iter().flatten().find(|s| s["stream"] == room);
        mine.and_then(|s| s["epoch"].as_str())
            .unwrap_or_else(|| panic!("{room} is not in {streams}"))
            .to_owned()
    }
}

/// Registers a device.
pub fn register(who: &Person, room: &str, pen: &Pen) -> Answer {
    who.caller.put(&format!("/api/v1/streams/{room}/devices/{}", pen.device), &json!({"name": "a phone"}))
}

/// Pushes ops that must all be taken; their numbers.
#[track_caller]
pub fn taken(who: &Person, room: &str, ops: &[Value]) -> Vec<u64> {
    let answer = who.caller.post(&format!("/api/v1/streams/{room}/ops"), &push(ops)).expect(200).json();
    let results = answer["results"].as_array().expect("results").clone();
    results.iter().map(|r| r["seq"].as_u64().unwrap_or_else(|| panic!("not taken: {answer}"))).collect()
}
