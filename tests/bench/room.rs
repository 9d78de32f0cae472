//! A real server with one keeper's room, and pushes into it.
#![allow(dead_code, reason = "each driver uses its part")]

use serde_json::{Value, json};
use std::time::{Duration, Instant};
use tarn_tests::engine::Engine;
use tarn_tests::people::{Club, Person};
use tarn_tests::server::Server;
use uuid::{Builder, Uuid};

use crate::season::{Season, Written};
use crate::wire::Wire;

/// A server, a keeper and a room that one device fills.
pub struct Room {
    /// The server.
    pub server: Server,
    /// Who keeps the room.
    pub keeper: Person,
    /// The room's stream.
    pub stream: Uuid,
    /// The device that writes.
    pub device: Uuid,
    /// What happens there.
    pub season: Season,
    wire: Wire,
}

/// An id that depends on nothing but a number.
fn fixed(n: u8) -> Uuid {
    Builder::from_unix_timestamp_millis(1_735_000_000_000, &[n; 10]).into_uuid()
}

impl Room {
    /// Starts the server and sets the room up.
    pub fn open(engine: Engine) -> Self {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let keeper = club.member("oskar", None);
        let (stream, device) = (fixed(1), fixed(2));
        let room = json!({"id": stream, "name": "Cellar", "zone": "Europe/Oslo"});
        keeper.caller.post("/api/v1/rooms", &room).expect(201);
        let path = format!("/api/v1/streams/{stream}/devices/{device}");
        keeper.caller.put(&path, &json!({"name": "driver"})).expect(200);
        let token = keeper.caller.post("/api/v1/sessions", &sign_in(&keeper)).expect(200).json();
        let token = token["access_token"].as_str().expect("a token").to_owned();
        let wire = Wire::open(server.address(), &token);
        let mut room = Self { server, keeper, stream, device, season: Season::new(7, device), wire };
        for ops in room.season.setting_up().chunks(50) {
            room.push(ops);
        }
        room
    }

    /// Pushes ops; how long the server took. Every one of them must be accepted.
    pub fn push(&mut self, ops: &[Written]) -> Duration {
        let texts: Vec<String> = ops.iter().map(|op| format!("{{\"op\":{}}}", op.text)).collect();
        let body = format!("{{\"ops\":[{}]}}", texts.join(","));
        let path = format!("/api/v1/streams/{}/ops", self.stream);
        let begun = Instant::now();
        let answer = self.wire.post(&path, &body);
        let took = begun.elapsed();
        assert_eq!(answer.status, 200, "{}", String::from_utf8_lossy(&answer.body));
        let said: Value = serde_json::from_slice(&answer.body).expect("JSON");
        let results = said["results"].as_array().expect("results");
        let refused = results.iter().find(|result| result.get("seq").is_none());
        assert!(refused.is_none() && results.len() == ops.len(), "not accepted: {refused:?}");
        took
    }
}

fn sign_in(keeper: &Person) -> Value {
    json!({"login_name": keeper.login, "password": tarn_tests::people::PASSWORD})
}
