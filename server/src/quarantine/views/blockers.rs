//! What is in the way of a unit besides its days, and what clears it.

use std::collections::BTreeSet;

use tarn_domain::quarantine::{Cause, Member, UnitState};

use super::People;
use crate::platform::parts::{Blocker, Way};
use crate::quarantine::actions::{Looked, UnitLook};
use crate::rooms::views::Teller;

/// Everything that is in the way now.
pub fn blockers(of: &UnitLook, people: &People, teller: &Teller<'_>) -> Vec<Blocker> {
    let mut all = Vec::new();
    let wall = of.look.wall;
    let sentence = |sentence: String| Way { sentence, deed: None, link: None };
    let breached: Vec<&Member> = of.unit.members.iter().filter(|m| m.cause == Cause::Breach).collect();
    if let Some(since) = breached.iter().map(|m| m.since).min() {
        let names: BTreeSet<String> = breached.iter().map(|m| teller.names.stock(m.stock).text()).collect();
        let names: Vec<String> = names.into_iter().collect();
        all.push(Blocker {
            title: "Home fish share this water".into(),
            happened: format!(
                "Since {}: {}. From that moment they are held with the unit and are cleared with it.",
                wall.moment(since.seconds()),
                names.join("; ")
            ),
            clears: "What clears it",
            ways: vec![sentence(
                "The days of the whole unit, and a steward\u{2019}s signature. Move no further fish, water or nets \
                 between this water and others, so that nothing else is reached. If fish are ill, their care comes \
                 first, with a veterinarian where one can be had."
                    .into(),
            )],
        });
    }
    if people.clubs.is_empty() {
        all.push(Blocker {
            title: "The room has no home club".into(),
            happened:
                "The shipped rule runs as advice. Days are counted, but nobody can clear the unit, and \
                nothing of it may leave through the program."
                    .into(),
            clears: "What clears it",
            ways: vec![sentence(
                "Name a home club whose member you are, with the client. Its stewards then see the unit."
                    .into(),
            )],
        });
    } else if of.unit.state == UnitState::Due {
        let who = match &people.stewards[..] {
            [] => "The club has no health steward yet; its secretary names one.".to_owned(),
            [one] => format!("Ask {one}, the club\u{2019}s one health steward."),
            [some @ .., last] => format!("Ask {} or {last}.", some.join(", ")),
        };
        let you = match of.looked {
            Looked::Keeper => " You can\u{2019}t do this yourself.",
            Looked::Steward => "",
        };
        all.push(Blocker {
            title: "A signature is missing".into(),
            happened: "The days are done. A health steward who is no party has to look at the fish and sign: one who \
                does not keep them, did not give them, and wrote nothing in their records."
                .into(),
            clears: "What clears it",
            ways: vec![sentence(format!("A steward reads the record and signs. {who}{you}"))],
        });
    }
    all
}
