//! The letters of this area: those that carry a link, those that tell of a change, and the digest. Plain text; no secret
//! but the single-use link.

use uuid::Uuid;

use crate::entities::{accounts, audit_seals, messages};
use crate::platform::ahead::Event;
use crate::platform::audit;
use crate::platform::day::Wall;
use crate::platform::html::day_and_time;
use crate::platform::mail::Letter;
use crate::platform::messages::one_line;

/// The most lines of each kind: what is more stands on the page.
const MOST: usize = 30;

/// Asks whether mail may come to this address.
pub fn asks(id: Uuid, person: &accounts::Model, site: &str, token: &str) -> Letter {
    let body = format!(
        "Somebody who signs in as {} at {site} asked for a digest to this address: once a morning, when there is \
         something to tell.\n\nIf it was you, open this page and press the button on it:\n\n{site}/account/digest?token={token}\n\n\
         The link is good once, for two days. If it was not you, do nothing: no digest is sent.\n",
        person.login_name
    );
    Letter { id, to: person.email.clone(), subject: "A digest from Tarn to this address?".into(), body }
}

/// Carries the link that proves an address.
pub fn proves(id: Uuid, person: &accounts::Model, site: &str, token: &str) -> Letter {
    let body = format!(
        "{} at {site} gave this address. If it was you, open this page and press the button on it:\n\n\
         {site}/prove?token={token}\n\nThen a forgotten password can be reset by a letter to it, and a digest can be \
         sent. The link is good once, for two days. If it was not you, do nothing.\n",
        person.login_name
    );
    Letter { id, to: person.email.clone(), subject: "Is this your address?".into(), body }
}

/// Tells whoever has the address of before that it is another now.
pub fn address_changed(id: Uuid, before: &accounts::Model, site: &str) -> Letter {
    let body = format!(
        "{} at {site} has taken another address, or none. Nothing is sent to this one any more.\n\nIf it was not you, \
         sign in and change your password, or ask whoever runs the server.\n",
        before.login_name
    );
    Letter { id, to: before.email.clone(), subject: "Your address at Tarn was changed".into(), body }
}

/// Carries the links by which passwords are reset: a login name and a token each.
pub fn resets(id: Uuid, to: &str, links: &[(&str, &str)], site: &str) -> Letter {
    let mut body = format!("Somebody asked at {site} for another password");
    body.push_str(if links.len() == 1 { ".\n" } else { " for who has this address. Several do.\n" });
    for (login, token) in links {
        body.push_str(&format!("\nWho signs in as {login} opens this page:\n{site}/reset?token={token}\n"));
    }
    body.push_str(
        "\nEach link is good once, for six hours. If it was not you, do nothing: the password stays as it is.\n",
    );
    Letter { id, to: to.to_owned(), subject: "Another password at Tarn".into(), body }
}

/// Tells that a password was reset.
pub fn was_reset(id: Uuid, person: &accounts::Model, site: &str) -> Letter {
    let body = format!(
        "The password of {} at {site} was reset by a link that was sent to this address. All sessions have ended.\n\nIf \
         it was not you, somebody reads your mail: ask whoever runs the server to reset it once more.\n",
        person.login_name
    );
    Letter { id, to: person.email.clone(), subject: "Your password at Tarn was reset".into(), body }
}

/// Carries the link by which an account is made; names those that are there.
pub fn signs_up(id: Uuid, to: &str, names: &[&str], site: &str, token: &str) -> Letter {
    let mut body = format!("Somebody asked at {site} for an account with this address.\n");
    if !names.is_empty() {
        body.push_str(&format!(
            "\nWith this address one signs in there already as: {}. A forgotten password is reset at\n{site}/forgotten\n",
            names.join(", ")
        ));
    }
    let one = if names.is_empty() { "it" } else { "one more" };
    body.push_str(&format!(
        "\nTo make {one}, open this page:\n{site}/welcome?token={token}\n\nThe link is good once, for a day. If it \
         was not you, do nothing: nothing is made.\n",
    ));
    Letter { id, to: to.to_owned(), subject: "An account at Tarn?".into(), body }
}

/// What a digest tells.
pub struct DigestOf<'a> {
    /// For whom.
    pub person: &'a accounts::Model,
    /// Unread lines since the last one, the oldest first.
    pub new: &'a [messages::Model],
    /// What lies ahead in the next days.
    pub ahead: &'a [Event],
    /// The newest seal, for an officer, and the clubs whose secretary it is.
    pub seal: Option<(audit_seals::Model, Vec<Uuid>)>,
    /// The clock it is told by.
    pub wall: Wall,
    /// Where links lead.
    pub site: &'a str,
}

/// The digest of a morning.
pub fn digest(id: Uuid, of: &DigestOf<'_>) -> Letter {
    let mut body = format!("{},\n", of.person.shown_name);
    if !of.new.is_empty() {
        body.push_str("\nNew on your page:\n");
        let line = |m: &messages::Model| {
            (format!("{}: {}", of.wall.moment(m.made_ms.div_euclid(1000)), m.text), m.href.clone())
        };
        list(&mut body, of.new.iter().map(line), of.site);
    }
    if !of.ahead.is_empty() {
        body.push_str("\nIn the next seven days:\n");
        let line = |e: &Event| {
            let place = e.place.as_ref().map_or(String::new(), |place| format!(", {place}"));
            (one_line(&format!("{}{place}. {}", e.when_words, e.title), 300), e.href.clone())
        };
        list(&mut body, of.ahead.iter().map(line), of.site);
    }
    if let Some((seal, clubs)) = &of.seal {
        sealed(&mut body, seal, clubs, of.site);
    }
    body.push_str(&format!(
        "\nAll of it: {site}/messages\n\nThis comes once a morning when there is something to tell. Turn it off at \
         {site}/account#telling\n",
        site = of.site
    ));
    let subject = subject(of.new.len(), of.ahead.len(), of.seal.is_some());
    Letter { id, to: of.person.email.clone(), subject, body }
}

/// What lets an officer notice later that the past was changed.
fn sealed(body: &mut String, seal: &audit_seals::Model, clubs: &[Uuid], site: &str) {
    body.push_str(&format!(
        "\nAs secretary, keep this. The newest seal over what was done on this server:\n{}: {}\nmade {}.\n\
         If seal {} ever reads otherwise, what was done before was changed. Compare it, and read what was done, at:\n",
        seal.number,
        audit::in_groups(seal),
        day_and_time(seal.at_ms),
        seal.number,
    ));
    for club in clubs {
        body.push_str(&format!("{site}/clubs/{club}/audit?seal={}\n", seal.number));
    }
}

fn list(body: &mut String, lines: impl ExactSizeIterator<Item = (String, Option<String>)>, site: &str) {
    let more = lines.len().saturating_sub(MOST);
    for (line, href) in lines.take(MOST) {
        body.push_str(&format!("- {line}\n"));
        if let Some(href) = href {
            body.push_str(&format!("  {site}{href}\n"));
        }
    }
    if more > 0 {
        body.push_str(&format!("- and {more} more\n"));
    }
}

fn subject(new: usize, ahead: usize, sealed: bool) -> String {
    let new = match new {
        0 => None,
        1 => Some("1 new message".to_owned()),
        n => Some(format!("{n} new messages")),
    };
    let ahead = (ahead > 0).then(|| format!("{ahead} ahead"));
    let seal = (sealed && new.is_none() && ahead.is_none()).then(|| "the newest seal".to_owned());
    format!("Tarn: {}", new.into_iter().chain(ahead).chain(seal).collect::<Vec<_>>().join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_subject_counts() {
        assert_eq!(subject(1, 0, false), "Tarn: 1 new message");
        assert_eq!(subject(2, 3, true), "Tarn: 2 new messages, 3 ahead");
        assert_eq!(subject(0, 1, false), "Tarn: 1 ahead");
        assert_eq!(subject(0, 0, true), "Tarn: the newest seal");
    }
}
