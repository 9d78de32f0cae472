//! What was done, so that others can check it: plain rows, each with a salted digest, sealed every minute in a chain of
//! hashes. Whoever keeps the newest seal can tell later whether the past was changed.
//!
//! A fact names accounts by id and holds nothing personal. [`Write::audit`](super::write::Write::audit) is the only way
//! in. Who may read what is the areas' to say.

mod chain;
mod list;
mod seal;
mod verify;

pub use list::of_club;
pub use seal::{ROUND, ROUND_MS, newest, numbered, round};
pub use verify::{Verdict, verify};

use sea_orm::ActiveValue::NotSet;
use sea_orm::{ActiveModelTrait, ConnectionTrait};
use uuid::Uuid;

use super::actor::Actor;
use super::errors::Result;
use crate::entities::{audit_facts, audit_seals};

/// Something that was done, on its way into the table.
pub(super) struct Fact {
    pub area: &'static str,
    pub club: Option<Uuid>,
    pub text: String,
}

/// Keeps a fact of this moment.
pub(super) async fn save(
    conn: &impl ConnectionTrait,
    fact: Fact,
    now: i64,
    actor: &Actor,
    salt: [u8; 16],
) -> Result<()> {
    let mut row = audit_facts::Model {
        id: 0,
        at_ms: now,
        actor: actor.account(),
        area: fact.area.to_owned(),
        fact: fact.text,
        digest: Vec::new(),
        club: fact.club,
        by_operator: *actor == Actor::Operator,
        salt: Some(salt.to_vec()),
        seal: None,
    };
    row.digest = chain::digest(&row);
    let row = audit_facts::ActiveModel { id: NotSet, ..audit_facts::ActiveModel::from(row).reset_all() };
    row.insert(conn).await?;
    Ok(())
}

/// A seal's hash as people compare it: groups of four.
pub fn in_groups(seal: &audit_seals::Model) -> String {
    let digits: String = seal.hash.iter().map(|byte| format!("{byte:02x}")).collect();
    let groups: Vec<&str> = (0..digits.len()).step_by(4).filter_map(|at| digits.get(at..at + 4)).collect();
    groups.join(" ")
}

/// A seal as somebody noted it: its number, then its hash in groups or without.
pub fn noted(text: &str) -> Option<(i64, Vec<u8>)> {
    let text = text.trim().trim_start_matches(|c: char| !c.is_ascii_digit());
    let (number, rest) = text.split_once([' ', ':', ','])?;
    let digits: Vec<u8> = rest.bytes().filter(|b| !b" :,".contains(b)).collect();
    if digits.len() != 64 {
        return None;
    }
    let byte = |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
    Some((number.parse().ok()?, digits.chunks(2).map(byte).collect::<Option<_>>()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seal_is_noted_as_it_is_told() {
        let hash: Vec<u8> = (0..32).map(|n| n * 7).collect();
        let seal = audit_seals::Model {
            number: 17,
            first_fact: 1,
            last_fact: 2,
            facts: 2,
            at_ms: 0,
            hash: hash.clone(),
        };
        let told = in_groups(&seal);
        assert!(told.starts_with("0007 0e15 ") && told.len() == 79, "{told}");
        let plain = told.replace(' ', "");
        for text in [
            format!("17 {told}"),
            format!("17: {told}\n"),
            format!("seal 17, {plain}"),
            format!("17:{plain}"),
        ] {
            assert_eq!(noted(&text), Some((17, hash.clone())), "{text}");
        }
        for wrong in [
            String::new(),
            "17".into(),
            told.clone(),
            format!("17 {}", &plain[2..]),
            format!("17 x{}", &plain[1..]),
        ] {
            assert_eq!(noted(&wrong), None, "{wrong}");
        }
    }
}
