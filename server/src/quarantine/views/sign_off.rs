//! The page on which a steward signs.

use tarn_domain::quarantine::{Seen, SignOffRefusal, words};
use tarn_domain::streams::{At, OpId};

use super::blockers::{CameBack, Scene, heading};
use super::groups::groups;
use super::lines::{name, stocks};
use super::noted::record;
use super::people::{People, You};
use super::unit::{held, members};
use super::{SignOffForm, SignOffPage, Waiver};
use crate::platform::errors::Problem;
use crate::platform::html::{Field, FormErrors, Link, Page};
use crate::platform::parts::{Blocker, Choice, Fact, Reason, State, Way};
use crate::platform::words::{RunKind, Words};
use crate::quarantine::actions::UnitLook;
use crate::rooms::actions::read::Writers;
use crate::rooms::views::{Beside, Names, Teller};

/// What the steward typed.
#[derive(Debug, Default, Clone)]
pub struct Asked {
    /// How the fish were seen.
    pub seen: String,
    /// A remark.
    pub remark: String,
    /// Reasons, by the name of their field.
    pub reasons: Vec<(String, String)>,
}

/// Puts the page together; `no` is what is in the way of a signature even if all is let pass, `problem` why a form
/// came back.
pub fn form_page(
    page: impl FnOnce(String) -> Page,
    of: &UnitLook,
    (people, writers): (&People, &Writers),
    no: Option<&SignOffRefusal>,
    asked: &Asked,
    problem: Option<&Problem>,
    id: OpId,
) -> SignOffPage {
    let states = of.look.states();
    let names = Names { states: &states, beside: Beside::default() };
    let teller = Teller { names, wall: of.look.wall, about: None, by_tank: false };
    let here = format!("/sign-off/{}/{}", of.look.id, of.unit.id);
    let unit = format!("/units/{}/{}", of.look.id, of.unit.id);
    let came_back = CameBack::default();
    let scene = Scene { of, people, teller: &teller, writers, came_back: &came_back, entries_at: &unit };
    let noted = of.record();
    let heading = Words::plain("Sign off ").then(name(&states, &stocks(&of.unit), of.look.now()));
    SignOffPage {
        page: page(heading.text()),
        heading,
        state: State::of(of.unit.state.word()),
        lead: lead(of, people, no),
        errors: problem.map(|problem| FormErrors::of("Not signed", problem)),
        members: members(of, &teller, held),
        record: record(of, &noted, &teller),
        every_entry: Some(Link {
            href: format!("{unit}#entries"),
            words: "Every entry of these days".into(),
        }),
        signatures: signatures(people),
        refusals: no.map(|no| refusal(no, of, people)).into_iter().collect(),
        form: no.is_none().then(|| SignOffForm {
            action: here,
            id: id.to_string(),
            head: of.look.head.to_string(),
            seen: seen(asked, problem),
            waivers: waivers(&scene, asked, problem),
            remark: Field { required: false, ..Field::new("remark", "Remark") }.typed(&asked.remark, problem),
            standing: words(of.unit.done, noted.signs.len(), &of.look.wall.date(of.look.wall.now_s())),
            leave: if of.blockers.is_empty() { "/sign-off".into() } else { unit.clone() },
        }),
    }
}

/// One reason under each entry, or push, that it lets pass.
fn waivers(scene: &Scene<'_>, asked: &Asked, problem: Option<&Problem>) -> Vec<Waiver> {
    let one = |group: &super::groups::Group| {
        let (title, happened, list) = heading(scene, group);
        let mut letters = title.chars();
        let title: String = letters.next().into_iter().flat_map(char::to_lowercase).chain(letters).collect();
        let field = group.field();
        let typed = asked.reasons.iter().find(|(name, _)| *name == field);
        let pointer = format!("/{field}");
        let missing = problem.is_some_and(|p| p.faults().iter().any(|(at, _)| *at == pointer));
        let error = missing.then_some("Write at least one sentence. It is kept and shown with the sign-off.");
        let why = Reason::new(field, format!("Waiver: {title}"));
        let why = why.typed(typed.map_or("", |(_, typed)| typed), error);
        Waiver {
            list,
            why: Reason { hint: Some(happened.and(RunKind::Plain, " Write why it does not matter.")), ..why },
        }
    };
    groups(&scene.of.blockers).iter().map(one).collect()
}

fn seen(asked: &Asked, problem: Option<&Problem>) -> Choice {
    let options = Seen::ALL.map(|(_, word, words)| (word.to_owned(), words.to_owned()));
    let missing = problem.is_some_and(|p| p.faults().iter().any(|(at, _)| *at == "/seen"));
    let error = missing.then(|| "Choose one. The signature says how you know.".to_owned());
    Choice::of("seen", "How did you see the fish?", options).typed(&asked.seen, error)
}

/// Who has signed, and who has to: only where several have a say.
fn signatures(people: &People) -> Vec<Fact> {
    if people.clubs.len() < 2 {
        return Vec::new();
    }
    let one = |club: &super::people::ClubOf| {
        let value = match &club.signed_by {
            Some(by) => format!("{by} has signed."),
            None if people.yours().is_some_and(|yours| yours.id == club.id) => {
                "Not yet. This is yours.".into()
            }
            None => "Not yet.".into(),
        };
        Fact { name: club.name.clone(), value: Words::plain(value) }
    };
    people.clubs.iter().map(one).collect()
}

fn lead(of: &UnitLook, people: &People, no: Option<&SignOffRefusal>) -> Words {
    let wall = of.look.wall;
    let due = of.unit.due.map_or(0, At::seconds);
    let days = match of.unit.due {
        Some(_) if due <= wall.now_s() => {
            format!("{} days were done on {}.", of.unit.days.0, wall.moment(due))
        }
        Some(_) => format!("{} days are not done before {}.", of.unit.days.0, wall.moment(due)),
        None if of.unit.start.is_some() => "A treatment runs, so no day can be told.".into(),
        None => "The fish are still in the bag.".into(),
    };
    let you = match (no, &people.you) {
        (None, You::Steward(_, other)) => {
            let club = people.yours().map_or("the club", |club| club.name.as_str());
            let as_what = match other {
                Some(other) => format!("{other}, since {club} has none who is free"),
                None => club.to_owned(),
            };
            format!(
                " You read this as health steward of {as_what}. You gave or sold none of these fish and wrote nothing in \
                 their records."
            )
        }
        _ => String::new(),
    };
    Words::plain(days).and(RunKind::Plain, you)
}

fn refusal(no: &SignOffRefusal, of: &UnitLook, people: &People) -> Blocker {
    let wall = of.look.wall;
    let (title, happened, clears) = match no {
        SignOffRefusal::NotSteward if people.clubs.is_empty() => (
            "The room has no home club",
            "The shipped rule runs as advice, and nobody can clear the unit.",
            "Its keeper names a home club.".to_owned(),
        ),
        SignOffRefusal::NotSteward if people.you == You::Done => (
            "Your club has signed",
            "Where the room had several clubs, one steward of each signs.",
            people.ask(),
        ),
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
    Blocker::new(title, happened, vec![Way::say(clears)])
}
