//! The rest of sync: a stream that is followed as it grows, a client that stays, packed answers, how much a day, and the
//! client's man pages.

mod live;
mod man;
mod packed;
mod quota;
mod watch;

use serde_json::Value;
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::keeper::Keeper;
use tarn_tests::people::Person;
use tarn_tests::server::Server;
use tarn_tests::society::Society;

/// A society on a server with settings of its own.
fn society(engine: Engine, settings: &[(&str, &str)]) -> Society {
    let mut server = Server::prepare(Database::new(engine));
    settings.iter().for_each(|(name, value)| server.set(name, value));
    server.start_again();
    Society::on(server)
}

/// A client that is logged in, with the account's rooms.
fn client(s: &Society, name: &str, login: &str) -> Keeper {
    let keeper = Keeper::new(name);
    keeper.log_in(&s.server.url(""), login);
    keeper
}

/// Where a stream is pulled, or followed, from its first op on.
fn from_first(s: &Society, who: &Person, what: &str) -> String {
    format!("/api/v1/streams/{}/{what}?epoch={}&after=0", s.room, s.epoch(who, &s.room))
}

/// All ops, as a pull gives them.
fn pulled(s: &Society) -> Vec<Value> {
    let all = s.ada.caller.get(&from_first(s, &s.ada, "ops")).expect(200).json();
    all["ops"].as_array().expect("ops").clone()
}
