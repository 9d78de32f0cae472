//! What is hashed: of a fact all that it tells, of a seal the one before it and the digests of its facts. Lengths stand
//! before whatever has no fixed one, so that no two things are hashed alike.

use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::entities::{audit_facts, audit_seals};

/// The digest that a fact must have.
pub(super) fn digest(row: &audit_facts::Model) -> Vec<u8> {
    let Some(salt) = &row.salt else { return digest_without_salt(row) };
    let mut hash = Sha256::new();
    hash.update(b"tarn audit fact 2\n");
    counted(&mut hash, salt);
    hash.update(row.at_ms.to_be_bytes());
    one(&mut hash, row.actor);
    hash.update([u8::from(row.by_operator)]);
    one(&mut hash, row.club);
    counted(&mut hash, row.area.as_bytes());
    counted(&mut hash, row.fact.as_bytes());
    hash.finalize().to_vec()
}

/// As facts were hashed before they had salts. Such a fact is of no club and by nobody at the command line.
fn digest_without_salt(row: &audit_facts::Model) -> Vec<u8> {
    let told = format!("{}\n{}\n{}\n{}", row.at_ms, row.actor.unwrap_or_default(), row.area, row.fact);
    Sha256::digest(told).to_vec()
}

/// Whether a fact is as it was written down.
pub(super) fn fits(row: &audit_facts::Model) -> bool {
    let tells_more = row.club.is_some() || row.by_operator;
    row.digest == digest(row) && (row.salt.is_some() || !tells_more)
}

/// The hash that a seal must have, after the seal before it (none before the first), over its facts in the order of
/// their ids.
pub(super) fn hash(
    before: Option<&[u8]>,
    seal: &audit_seals::Model,
    facts: &[audit_facts::Model],
) -> Vec<u8> {
    let mut hash = Sha256::new();
    hash.update(b"tarn audit seal 1\n");
    counted(&mut hash, before.unwrap_or_default());
    for number in [seal.number, seal.first_fact, seal.last_fact, seal.facts, seal.at_ms] {
        hash.update(number.to_be_bytes());
    }
    for fact in facts {
        hash.update(fact.id.to_be_bytes());
        counted(&mut hash, &fact.digest);
    }
    hash.finalize().to_vec()
}

fn counted(hash: &mut Sha256, bytes: &[u8]) {
    hash.update((bytes.len() as u64).to_be_bytes());
    hash.update(bytes);
}

fn one(hash: &mut Sha256, id: Option<Uuid>) {
    hash.update([u8::from(id.is_some())]);
    hash.update(id.unwrap_or_default().as_bytes());
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fact() -> audit_facts::Model {
        let mut row = audit_facts::Model {
            id: 4,
            at_ms: 1_000,
            actor: Some(Uuid::from_u128(1)),
            area: "clubs".into(),
            fact: "somebody invited".into(),
            digest: Vec::new(),
            club: Some(Uuid::from_u128(2)),
            by_operator: false,
            salt: Some(vec![1; 16]),
            seal: None,
        };
        row.digest = digest(&row);
        row
    }

    #[test]
    fn whatever_is_changed_in_a_fact_is_noticed() {
        let good = fact();
        assert!(fits(&good));
        let changes: [fn(&mut audit_facts::Model); 8] = [
            |row| row.at_ms += 1,
            |row| row.actor = None,
            |row| row.area = "club".into(),
            |row| row.fact.push('s'),
            |row| row.club = None,
            |row| row.by_operator = true,
            |row| row.salt = Some(vec![2; 16]),
            |row| row.salt = None,
        ];
        for (n, change) in changes.into_iter().enumerate() {
            let mut row = good.clone();
            change(&mut row);
            assert!(!fits(&row), "change {n}");
        }
        let moved =
            audit_facts::Model { area: "clubssome".into(), fact: "body invited".into(), ..good.clone() };
        assert!(!fits(&moved));
    }

    #[test]
    fn a_fact_without_a_salt_can_tell_no_more_than_it_could_then() {
        let mut old = audit_facts::Model { salt: None, club: None, ..fact() };
        old.digest = digest(&old);
        assert!(fits(&old));
        old.by_operator = true;
        assert!(!fits(&old));
        old = audit_facts::Model { by_operator: false, club: Some(Uuid::nil()), ..old };
        assert!(!fits(&old));
    }

    #[test]
    fn a_seal_hangs_on_all_of_it() {
        let facts = [fact(), audit_facts::Model { id: 6, ..fact() }];
        let seal =
            audit_seals::Model { number: 2, first_fact: 4, last_fact: 6, facts: 2, at_ms: 9, hash: vec![] };
        let good = hash(Some(&[7; 32]), &seal, &facts);
        assert_ne!(good, hash(None, &seal, &facts));
        assert_ne!(good, hash(Some(&[8; 32]), &seal, &facts));
        assert_ne!(good, hash(Some(&[7; 32]), &audit_seals::Model { at_ms: 8, ..seal.clone() }, &facts));
        assert_ne!(good, hash(Some(&[7; 32]), &seal, &facts[..1]));
        assert_ne!(good, hash(Some(&[7; 32]), &seal, &[facts[0].clone(), facts[0].clone()]));
    }
}
