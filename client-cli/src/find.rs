//! Finding tanks, stocks and the like by any unambiguous beginning of a name or id.

use tarn_domain::streams::Entity;
use uuid::Uuid;

use crate::failure::{Failure, Outcome};
use crate::store::Named;

/// The one thing that is meant; `still_there` tells apart those of the same name that are gone.
///
/// # Errors
/// None, or several.
pub fn find(what: &str, typed: &str, all: &[Named], still_there: impl Fn(Entity) -> bool) -> Outcome<Entity> {
    let typed = typed.trim();
    if typed.is_empty() {
        return Err(Failure::wrong_use(format!("an empty text names no {what}")));
    }
    let lower = typed.to_lowercase();
    let same = |text: &Option<String>| text.as_ref().is_some_and(|t| t.to_lowercase() == lower);
    let begins = |text: &Option<String>| text.as_ref().is_some_and(|t| t.to_lowercase().starts_with(&lower));
    let tiers: [&dyn Fn(&Named) -> bool; 5] = [
        &|thing| same(&thing.name) || thing.entity.id.to_string() == lower,
        &|thing| begins(&thing.name),
        &|thing| same(&thing.what),
        &|thing| begins(&thing.what),
        &|thing| is_part_of_id(&lower, thing.entity.id),
    ];
    for tier in tiers {
        let mut matches: Vec<&Named> = all.iter().filter(|thing| tier(thing)).collect();
        if matches.len() > 1 {
            let there: Vec<&Named> = matches.iter().copied().filter(|m| still_there(m.entity)).collect();
            if !there.is_empty() {
                matches = there;
            }
        }
        match matches[..] {
            [] => {}
            [one] => return Ok(one.entity),
            _ => return Err(several(what, typed, &matches)),
        }
    }
    let failure = Failure::wrong_use(format!("there is no {what} {typed:?} in this room"));
    Err(failure
        .hint(format!("tarn {} list shows what there is", what.split(' ').next_back().unwrap_or(what))))
}

fn several(what: &str, typed: &str, matches: &[&Named]) -> Failure {
    let mut names: Vec<String> =
        matches.iter().take(6).map(|m| format!("{} ({})", label(m), short(m.entity.id))).collect();
    if matches.len() > 6 {
        names.push("…".into());
    }
    Failure::wrong_use(format!("{typed:?} may be any {what} of these: {}", names.join(", ")))
        .hint("Write more of its name, or its id.")
}

/// What a thing is called.
pub fn label(thing: &Named) -> String {
    let name = thing.name.as_ref().or(thing.what.as_ref()).filter(|n| !n.trim().is_empty());
    name.cloned().unwrap_or_else(|| short(thing.entity.id))
}

/// The end of an id, by which it can be told from others: their beginnings are times and much alike.
pub fn short(id: Uuid) -> String {
    let text = id.simple().to_string();
    text[text.len() - 8..].to_owned()
}

/// Whether a text is the beginning or end of an id, at least four digits of it.
pub fn is_part_of_id(typed: &str, id: Uuid) -> bool {
    let plain: String = typed.chars().filter(|c| *c != '-').collect();
    let text = id.simple().to_string();
    plain.len() >= 4 && (text.starts_with(&plain) || text.ends_with(&plain))
}

#[cfg(test)]
mod tests {
    use tarn_domain::streams::EntityKind;

    use super::*;

    fn stocks() -> Vec<Named> {
        [
            (1, Some("Blue guppies"), "Poecilia reticulata"),
            (2, Some("Blue"), "Poecilia"),
            (3, None, "Danio rerio"),
        ]
        .map(|(id, name, what)| Named {
            entity: Entity { kind: EntityKind::Stock, id: Uuid::from_u128(id << 96 | id) },
            name: name.map(Into::into),
            what: Some(what.into()),
        })
        .into()
    }

    fn found(typed: &str) -> Result<u128, String> {
        let all = find("stock", typed, &stocks(), |_| true).map_err(|f| f.says)?;
        Ok(all.id.as_u128() & 0xff)
    }

    #[test]
    fn any_unambiguous_beginning_is_enough() {
        assert_eq!(found("blue"), Ok(2));
        assert_eq!(found("blue g"), Ok(1));
        assert_eq!(found("dan"), Ok(3));
        assert_eq!(found("00000003"), Ok(3));
        assert!(found("blu").is_err_and(|says| says.contains("Blue guppies")));
        assert!(found("tetra").is_err_and(|says| says.contains("no stock")));
        assert!(found("").is_err());
    }

    #[test]
    fn of_two_with_one_name_the_one_with_fish_is_meant() {
        let second = stocks()[1].entity;
        assert_eq!(find("stock", "blu", &stocks(), |e| e == second).map_err(|f| f.says), Ok(second));
    }
}
