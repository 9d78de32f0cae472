//! What was done in a club, for its secretaries: who and what in words, names looked up now.

use std::collections::HashMap;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use uuid::Uuid;

use super::super::store;
use crate::entities::{audit_facts, audit_seals};
use crate::platform::{Ctx, Result, audit};

/// Who did something.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Doer {
    /// Somebody who is in the club, by their shown name.
    Member(Uuid, String),
    /// Somebody who is not, now.
    Gone(Uuid),
    /// Whoever runs the server.
    Operator,
    /// The server itself.
    Server,
}

impl Doer {
    /// In words.
    pub fn words(&self) -> &str {
        match self {
            Self::Member(_, name) => name,
            Self::Gone(_) => GONE,
            Self::Operator => "the operator",
            Self::Server => "the server",
        }
    }
}

const GONE: &str = "somebody who left, or is of another club";

/// Something that was done.
pub struct Done {
    /// The row.
    pub fact: audit_facts::Model,
    /// Who.
    pub by: Doer,
    /// What, with names for the ids of people.
    pub words: String,
}

/// A piece of what was done.
pub struct Audit {
    /// The club's name.
    pub club: String,
    /// The newest first.
    pub done: Vec<Done>,
    /// Where the list goes on.
    pub next: Option<String>,
    /// The seal that was asked for, or the newest.
    pub seal: Option<audit_seals::Model>,
}

/// A place in the list that was handed out.
pub fn audit_place(cursor: &str) -> Option<i64> {
    let bytes = URL_SAFE_NO_PAD.decode(cursor).ok()?;
    Some(i64::from_be_bytes(bytes.try_into().ok()?))
}

fn cursor(id: i64) -> String {
    URL_SAFE_NO_PAD.encode(id.to_be_bytes())
}

/// What was done in a club after a place in the list.
pub async fn audit(ctx: &Ctx, club: Uuid, after: Option<i64>, most: u64, seal: Option<i64>) -> Result<Audit> {
    let snapshot = ctx.db.snapshot().await?;
    let mut facts = audit::of_club(&snapshot, club, after, most + 1).await?;
    let there_is_more = facts.len() as u64 > most;
    facts.truncate(usize::try_from(most).unwrap_or(usize::MAX));
    let next = facts.last().filter(|_| there_is_more).map(|fact| cursor(fact.id));
    let seal = match seal {
        Some(number) => audit::numbered(&snapshot, number).await?,
        None => audit::newest(&snapshot).await?,
    };
    let name = store::club(&snapshot, club).await?.map_or_else(String::new, |club| club.name);
    let members = store::members(&snapshot, club).await?.into_iter();
    let names: HashMap<Uuid, String> = members.map(|(who, ..)| (who.id, who.shown_name)).collect();
    snapshot.commit().await?;
    let done = facts.into_iter().map(|fact| Done {
        by: doer(&fact, &names),
        words: in_words(&fact.fact, club, &names),
        fact,
    });
    Ok(Audit { club: name, done: done.collect(), next, seal })
}

fn doer(fact: &audit_facts::Model, names: &HashMap<Uuid, String>) -> Doer {
    match (fact.actor, fact.by_operator) {
        (Some(id), _) => names.get(&id).map_or(Doer::Gone(id), |name| Doer::Member(id, name.clone())),
        (None, true) => Doer::Operator,
        (None, false) => Doer::Server,
    }
}

/// A fact with names for the ids of people and "the club" for its own; of anything else the end of its id, since what it
/// is called is its keeper's.
fn in_words(fact: &str, club: Uuid, names: &HashMap<Uuid, String>) -> String {
    let mut words: Vec<String> = Vec::new();
    for word in fact.split(' ') {
        let Ok(id) = Uuid::parse_str(word.trim_end_matches([',', ':', '.'])) else {
            words.push(word.replace('_', " "));
            continue;
        };
        let last = words.last().map(String::as_str);
        if id == club {
            words.pop_if(|last| last == "club");
            words.push("the club".into());
        } else if let Some(name) = names.get(&id) {
            words.pop_if(|last| last == "account");
            words.push(name.clone());
        } else if last == Some("account") || last == Some("by") {
            words.pop_if(|last| last == "account");
            words.push(GONE.into());
        } else {
            let simple = id.simple().to_string();
            words.push(format!("…{}", simple.get(26..).unwrap_or_default()));
        }
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fact_is_told_with_names_and_without_ids() {
        let (mira, club, room) = (Uuid::from_u128(1), Uuid::from_u128(2), Uuid::from_u128(0xabc_def1));
        let names = HashMap::from([(mira, "Mira K.".to_owned())]);
        let told = |fact: String| in_words(&fact, club, &names);
        let gone = Uuid::from_u128(9);
        for (fact, words) in [
            (
                format!("account {mira} is health_steward of club {club}"),
                "Mira K. is health steward of the club".to_owned(),
            ),
            (format!("account {gone} joined club {club}"), format!("{GONE} joined the club")),
            (
                format!("unit {room} of room {room} cleared by {mira}"),
                "unit …bcdef1 of room …bcdef1 cleared by Mira K.".into(),
            ),
            (
                format!("home club of room {room} set by {gone}"),
                format!("home club of room …bcdef1 set by {GONE}"),
            ),
        ] {
            assert_eq!(told(fact), words);
        }
    }

    #[test]
    fn a_place_is_found_again() {
        assert_eq!(audit_place(&cursor(77)), Some(77));
        for wrong in ["", "x", "AAAA", "AAAAAAAAAAAAAAAA"] {
            assert_eq!(audit_place(wrong), None, "{wrong}");
        }
    }
}
