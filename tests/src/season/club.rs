//! A club, its officers, three keepers by invitation, and the club's quarantine rule.

use super::{CLUB, PASSWORD, Season};
use crate::keeper::Keeper;

pub(super) fn founded(s: &mut Season) {
    let roles = [
        "officer",
        "add",
        "--login",
        "odile",
        "--club",
        CLUB,
        "--role",
        "secretary",
        "--role",
        "health_steward",
    ];
    let said = s.server.command(&roles).expect(0);
    let token = said.stdout.split_whitespace().next_back().unwrap_or_default().to_owned();
    let token = token.rsplit(['/', '=', '#']).next().unwrap_or_default();
    let url = s.url();
    join(&s.odile, &url, token, "odile", "Odile Fenn");
    s.tell(&format!("The operator makes the club {CLUB}; Odile Fenn is its secretary and a health steward."));

    for (keeper, login, name, role) in [
        (&s.marta, "marta", "Marta Quill", Some("health_steward")),
        (&s.jonas, "jonas", "Jonas Pell", Some("health_steward")),
    ] {
        let mut wanted = vec!["club", "invite"];
        if let Some(role) = role {
            wanted.extend(["--role", role]);
        }
        let invited = s.odile.json(&wanted);
        let token = invited["token"].as_str().expect("an invitation has a token");
        join(keeper, &url, token, login, name);
    }
    s.tell("Odile invites Marta Quill and Jonas Pell, both health stewards too; both accept.");

    s.odile.done(&["club", "rule", "--shipped"]);
    s.tell(
        "Odile adopts the club's quarantine rule: 30 days, and the days begin again with the last arrival.",
    );
}

fn join(keeper: &Keeper, url: &str, token: &str, login: &str, name: &str) {
    let email = format!("{login}@example.org");
    let line = ["join", url, token, "--login", login, "--email", &email, "--name", name, "--password-stdin"];
    keeper.run_with_input(&line, &format!("{PASSWORD}\n")).expect(0);
}
