//! The page on which a steward signs, and the one that says what stands.

use tarn_domain::quarantine::{Seen, SignOffRefusal, words};
use tarn_domain::streams::{At, OpId};

use super::lines::{name, stocks};
use super::unit::{People, held, members, record};
use super::{SignOffForm, SignOffPage, SignedPage};
use crate::platform::errors::Problem;
use crate::platform::html::{Field, FormErrors, Link, Page};
use crate::platform::parts::{Blocker, Choice, Fact, State, Way};
use crate::platform::words::{RunKind, Words};
use crate::quarantine::actions::{SignedLook, UnitLook};
use crate::rooms::views::{Beside, Names, Teller};

/// What the steward typed.
#[derive(Debug, Default, Clone)]
pub struct Asked {
    /// How the fish were seen.
    pub seen: String,
    /// A remark.
    pub remark: String,
}

/// Puts the page together; `no` is what is in the way of a signature, `problem` why a form came back.
pub fn form_page(
    page: impl FnOnce(String) -> Page,
    of: &UnitLook,
    people: &People,
    no: Option<&SignOffRefusal>,
    asked: &Asked,
    problem: Option<&Problem>,
    id: OpId,
) -> SignOffPage {
    let states = of.look.states();
    let names = Names { states: &states, beside: Beside::default() };
    let teller = Teller { names, wall: of.look.wall, about: None, by_tank: false };
    let here = format!("/sign-off/{}/{}", of.look.id, of.unit.id);
    let noted = of.record();
    SignOffPage {
        page: page(format!("Sign off {}", name(&states, &stocks(&of.unit), of.look.now()))),
        state: State::of(of.unit.state.word()),
        lead: lead(of, people, no),
        errors: problem.map(|problem| FormErrors::of("Not signed", problem)),
        members: members(of, &teller, held),
        record: record(of, &noted, &teller),
        every_entry: Some(Link {
            href: format!("/units/{}/{}#entries", of.look.id, of.unit.id),
            words: "Every entry of these days".into(),
        }),
        refusals: no.map(|no| refusal(no, of)).into_iter().collect(),
        form: no.is_none().then(|| SignOffForm {
            action: here,
            id: id.to_string(),
            head: of.look.head.to_string(),
            seen: seen(asked, problem),
            remark: Field { required: false, ..Field::new("remark", "Remark") }.typed(&asked.remark, problem),
            standing: words(of.unit.done, noted.signs.len(), &of.look.wall.date(of.look.wall.now_s())),
            leave: "/sign-off".into(),
        }),
    }
}

fn seen(asked: &Asked, problem: Option<&Problem>) -> Choice {
    let options = Seen::ALL.map(|(_, word, words)| (word.to_owned(), words.to_owned()));
    let missing = problem.is_some_and(|p| p.faults().iter().any(|(at, _)| *at == "/seen"));
    let error = missing.then(|| "Choose one. The signature says how you know.".to_owned());
    Choice::of("seen", "How did you see the fish?", options).typed(&asked.seen, error)
}

fn lead(of: &UnitLook, people: &People, no: Option<&SignOffRefusal>) -> Words {
    let wall = of.look.wall;
    let due = of.unit.due.map_or(0, At::seconds);
    let days = match of.unit.due {
        Some(_) if due <= wall.now_s() => {
            format!("{} days were done on {}.", of.unit.days.0, wall.moment(due))
        }
        Some(_) => format!("{} days are not done before {}.", of.unit.days.0, wall.moment(due)),
        None => "The fish are still in the bag.".into(),
    };
    let you = match no {
        None => format!(
            " You read this as health steward of {}. You gave or sold none of these fish and wrote nothing in their \
             records.",
            people.clubs.join(" and ")
        ),
        Some(_) => String::new(),
    };
    Words::plain(days).and(RunKind::Plain, you)
}

fn refusal(no: &SignOffRefusal, of: &UnitLook) -> Blocker {
    let wall = of.look.wall;
    let (title, happened, clears) = match no {
        SignOffRefusal::NotSteward => (
            "You are no health steward here",
            "Only a health steward of the room\u{2019}s club signs; where the room had several clubs, one of each.",
            "A steward of that club signs, or its secretary makes you one.".to_owned(),
        ),
        SignOffRefusal::ByParty => (
            "You are a party",
            "You keep or kept these fish, gave or sold them, or wrote in their records.",
            "Another steward signs. You can\u{2019}t do this yourself.".to_owned(),
        ),
        SignOffRefusal::NotDue(Some(due)) => (
            "The days are not done",
            "Nobody can shorten them.",
            format!("Time. They are done on {}.", wall.moment(due.seconds())),
        ),
        SignOffRefusal::NotDue(None) => (
            "The fish are still in the bag",
            "The days have not begun.",
            "The keeper puts them into water of their own; then the days begin.".to_owned(),
        ),
        SignOffRefusal::Treating => (
            "A treatment runs",
            "While it does, the days don\u{2019}t.",
            "The keeper ends it; then the days begin again.".to_owned(),
        ),
        SignOffRefusal::Open(n) => (
            "More is in the way",
            "Gaps between looks, late or withdrawn entries, counts that found more, many named losses.",
            format!(
                "Each of the {n} is cleared, or you let it pass in writing, with the signature or before."
            ),
        ),
        SignOffRefusal::ChangedSince => (
            "Something came in since",
            "An entry for this unit was recorded after this page was made.",
            "Read the page again, then sign.".to_owned(),
        ),
    };
    let ways = vec![Way { sentence: clears, deed: None, link: None }];
    Blocker { title: title.into(), happened: happened.into(), clears: "What clears it", ways }
}

/// What stands after the signature; `by` is who signed, `club` for which club.
pub fn signed_page(
    page: impl FnOnce(String) -> Page,
    of: &SignedLook,
    by: &str,
    club: &str,
    next: Link,
) -> SignedPage {
    let (wall, says) = (of.look.wall, &of.signed.says);
    let states = of.look.states();
    let names = Names { states: &states, beside: Beside::default() };
    let fact = |name: &str, value: Words| Fact { name: name.into(), value };
    let mut facts = vec![
        fact("Signed by", Words::plain(format!("{by}, health steward of {club}"))),
        fact("On", Words::plain(wall.moment(of.signed.at.seconds()))),
    ];
    let seen = Seen::ALL.iter().find(|(seen, ..)| *seen == says.seen).map_or("", |(_, _, words)| words);
    facts.push(fact("Fish seen", Words::plain(seen)));
    for stock in &says.members {
        facts.push(fact("Cleared", names.stock(*stock)));
    }
    for rule in says.rules.iter().filter(|rule| rule.version > 0) {
        facts.push(fact("By the rule", Words::plain(format!("version {}", rule.version))));
    }
    if let Some(remark) = &says.remark {
        facts.push(fact("Remark", Words::plain(remark.clone())));
    }
    SignedPage {
        page: page(format!("Signed: {}", name(&states, &says.members, of.signed.at))),
        state: State::of("cleared"),
        lead: Words::plain(
            "These fish may leave, and the water they are in is free. The keeper sees it now.",
        ),
        standing: of.words.clone(),
        facts,
        next,
        printed: format!("{} {}.", of.look.room.name, wall.moment(wall.now_s())),
    }
}
