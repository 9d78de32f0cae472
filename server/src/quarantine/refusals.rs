//! What `quarantine` refuses, and how the domain's "no" is told.

use tarn_domain::quarantine::SignOffRefusal;

use crate::platform::errors::{Problem, kinds};

kinds! {
    QUARANTINE_RUNNING "quarantine-running" 409 "In quarantine"
        "Nothing of a unit in quarantine may be packed, offered, listed or sent. It may once a health steward has cleared it; until says the first day on which that can be.";
    QUARANTINE_NOT_DUE "quarantine-not-due" 409 "The days are not done"
        "A unit is cleared only after its days; due says when they are done. Nobody can shorten them.";
    QUARANTINE_BLOCKED "quarantine-blocked" 409 "Something is in the way"
        "Gaps between looks, late or withdrawn entries, counts that found more and many named losses are in the way of a sign-off until they are cleared, or a health steward lets each of them pass in writing; blockers names them.";
    SIGN_OFF_BY_PARTY "sign-off-by-party" 403 "You are a party"
        "Whoever keeps or kept the room, gave or sold the fish, or wrote an entry of the unit does not sign it off. Another health steward has to.";
    NOT_A_STEWARD "not-a-steward" 403 "Not a health steward here"
        "Only health stewards of the club (of each club, where several have a say) sign off a unit. A room without a club is advised by the shipped rule, but nobody can clear it.";
    CHANGED_SINCE "changed-since" 409 "Something came in since you read it"
        "An entry that touches the unit was recorded after the head that your page showed. Read the unit again, then sign.";
    NOT_A_MEMBER "not-a-member" 403 "Not a member of this club"
        "A room's home club is one that its keeper is a member of.";
}

/// How the domain's "no" is told.
pub fn told(no: &SignOffRefusal) -> Problem {
    let kind = match no {
        SignOffRefusal::NotSteward => &NOT_A_STEWARD,
        SignOffRefusal::ByParty => &SIGN_OFF_BY_PARTY,
        SignOffRefusal::NotDue(_) | SignOffRefusal::Treating => &QUARANTINE_NOT_DUE,
        SignOffRefusal::Open(_) => &QUARANTINE_BLOCKED,
        SignOffRefusal::ChangedSince => &CHANGED_SINCE,
    };
    let problem = Problem::new(kind).detail(no.to_string());
    match no {
        SignOffRefusal::NotDue(Some(due)) => problem.with("due", due.to_string()),
        _ => problem,
    }
}
