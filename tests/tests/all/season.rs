//! The season of the demo on both engines: every step is checked while it is played. Then the drill of a server that is
//! lost: its backup goes to the other engine, and the devices of the season bring what the backup did not have.

use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::process::Ran;
use tarn_tests::season::{PASSWORD, Season};
use uuid::Uuid;

/// Every entry: when it was received and whether the server decided it, whose it is, and its bytes.
fn entries(database: &Database) -> Vec<(i64, Uuid, String)> {
    let received = "received * 2 + CASE WHEN decision THEN 1 ELSE 0 END";
    database.read(&format!("SELECT {received}, by_account, body FROM ops"), &[])
}

/// Syncs, after a new login if the backup does not know the device's last one.
fn synced(season: &Season, name: &str) -> Ran {
    let keepers = [&season.odile, &season.marta, &season.phone, &season.jonas, &season.tablet];
    let keeper = keepers.into_iter().find(|keeper| keeper.name() == name).expect("one of the season");
    let ran = keeper.run(&["sync"]);
    if ran.code != Some(4) {
        return ran.expect(0);
    }
    let login = match name {
        "phone" => "marta",
        "tablet" => "jonas",
        own => own,
    };
    let line = ["login", &season.url(), "--login", login, "--password-stdin"];
    keeper.run_with_input(&line, &format!("{PASSWORD}\n")).expect(0);
    keeper.done(&["sync"])
}

/// The server is lost after a backup and two more syncs, and comes back on the other engine.
fn lost_and_restored(season: &mut Season, other: Engine) {
    let backup = tarn_tests::place::Folder::new("season-backup");
    let file = backup.path().join("season.tar.zst");
    let file = file.to_string_lossy().into_owned();
    season.server.command(&["backup", &file]).expect(0);
    // acknowledged after the backup; and never sent
    season.marta.done(&["tank", "add", "Spare", "--volume", "60l"]);
    season.marta.done(&["sync"]);
    season.jonas.done(&["tank", "add", "Jar", "--volume", "20l"]);
    season.jonas.done(&["sync"]);
    season.phone.done(&["tank", "add", "Tub", "--volume", "90l"]);
    let acknowledged = entries(season.server.database());

    season.server.stop();
    season.server.move_to(Database::empty(other));
    season.server.command(&["restore", &file]).expect(0);
    season.server.start_again();
    season.server.command(&["check"]).expect(0);
    for name in ["tablet", "phone", "marta", "jonas", "odile", "phone", "tablet"] {
        synced(season, name);
    }

    let now = entries(season.server.database());
    for entry in &acknowledged {
        let times = now.iter().filter(|other| *other == entry).count();
        assert_eq!(times, 1, "an acknowledged entry is there once, received when it was: {entry:?}");
    }
    let tubs = now.iter().filter(|(_, _, text)| text.contains("\"Tub\"")).count();
    assert_eq!(tubs, 1, "and so is what had not been sent");
    season.server.command(&["check"]).expect(0);
    for (desk, phone) in [(&season.marta, &season.phone), (&season.jonas, &season.tablet)] {
        let state = |keeper: &tarn_tests::keeper::Keeper| keeper.done(&["state", "--json"]).stdout;
        assert_eq!(state(desk), state(phone), "both devices hold the same bytes");
    }
}

on_both_engines! {
    fn a_season_from_the_first_member_to_a_signature(engine) {
        let mut season = Season::play(engine, |line| println!("{line}"));
        let other = if engine == Engine::Sqlite { Engine::Postgres } else { Engine::Sqlite };
        lost_and_restored(&mut season, other);
    }
}
