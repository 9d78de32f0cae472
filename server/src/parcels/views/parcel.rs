//! Parcels: the list, one as both sides tell it, and the forms by which an officer or a steward decides.

use askama::Template;
use tarn_domain::lineage::Ancestor;
use tarn_domain::parcels::{Outcome, total};
use tarn_domain::rooms::{Node, Sex};
use tarn_domain::streams::ParcelId;

use super::Line;
use crate::parcels::actions::standing::{Stage, Standing, standing};
use crate::parcels::actions::{DAYS, Overdue};
use crate::parcels::store::Side;
use crate::platform::Problem;
use crate::platform::day::Wall;
use crate::platform::html::{Field, FormErrors, Page};
use crate::platform::parts::{Choice, Fact, State, Tone};
use crate::platform::words::Words;

/// `/parcels`.
#[derive(Template)]
#[template(path = "parcels/parcels.html")]
pub struct ParcelsPage {
    /// Layout.
    pub page: Page,
    /// What waits.
    pub lead: String,
    /// Those that an officer may settle.
    pub overdue: Vec<Line>,
    /// One's own.
    pub lines: Vec<Line>,
}

/// `/parcels/{id}`.
#[derive(Template)]
#[template(path = "parcels/parcel.html")]
pub struct ParcelPage {
    /// Layout.
    pub page: Page,
    /// How far it has come.
    pub state: State,
    /// What that means, and what is next.
    pub lead: String,
    /// What was wrong with what was typed.
    pub errors: Option<FormErrors>,
    /// What is known of it.
    pub facts: Vec<Fact>,
    /// What was sent and what came.
    pub rows: Vec<FishLine>,
    /// The id, for whom it arrives.
    pub command: Option<String>,
    /// An officer's form.
    pub form: Option<SettleForm>,
}

/// So many fish of one kind, as each side says.
pub struct FishLine {
    /// Which.
    pub name: String,
    /// How many were sent.
    pub sent: i64,
    /// How many came alive.
    pub alive: i64,
    /// How many came dead.
    pub dead: i64,
}

/// How an officer settles it.
pub struct SettleForm {
    /// Where it posts to.
    pub action: String,
    /// Made by the page.
    pub id: String,
    /// What became of the fish.
    pub outcome: Choice,
    /// Why.
    pub why: Field,
}

/// What an officer typed.
#[derive(Default)]
pub struct SettleTyped {
    /// The outcome's word.
    pub outcome: String,
    /// Why.
    pub why: String,
}

/// `/parcels/agree/{room}/{unit}`.
#[derive(Template)]
#[template(path = "parcels/agree.html")]
pub struct AgreePage {
    /// Layout.
    pub page: Page,
    /// What it is about.
    pub lead: String,
    /// What was wrong with what was typed.
    pub errors: Option<FormErrors>,
    /// Where it posts to.
    pub action: String,
    /// Made by the page.
    pub id: String,
    /// For whom.
    pub to: Field,
    /// Why.
    pub why: Field,
    /// Away, without having done it.
    pub leave: String,
}

fn state(stage: Stage) -> State {
    let (word, tone) = match stage {
        Stage::Packed => ("packed", Tone::Ochre),
        Stage::Sent => ("on its way", Tone::Ochre),
        Stage::Arrived => ("arrived", Tone::Lichen),
        Stage::Differs => ("numbers differ", Tone::Rust),
        Stage::Unmatched => ("not matched", Tone::Ochre),
        Stage::Returned => ("returned", Tone::Plain),
        Stage::Settled => ("settled", Tone::Plain),
    };
    State { word, tone }
}

fn fish(n: i64) -> String {
    if n == 1 { "one fish".into() } else { format!("{n}\u{a0}fish") }
}

fn sent(of: &Standing<'_>) -> i64 {
    of.giver.map_or(0, |giver| giver.rows.iter().map(|row| row.n.get()).sum())
}

/// What a parcel is called: how many fish, and to whom.
fn name(of: &Standing<'_>) -> String {
    let many = match (of.giver, of.receiver) {
        (None, Some(came)) => fish(total(came.alive.iter().chain(&came.dead))),
        _ => fish(sent(of)),
    };
    let mut letters = many.chars();
    let many: String = letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect();
    match of.giver.and_then(|giver| giver.to.as_ref()) {
        Some(to) => format!("{many} to {to}"),
        None => many,
    }
}

fn sentence(of: &Standing<'_>) -> String {
    match of.stage {
        Stage::Packed => "In the bag; it has not left.".into(),
        Stage::Sent => format!(
            "{} on the way. Whoever gets it says how many arrived; after {DAYS} days an officer settles it.",
            if sent(of) == 1 { "One fish is".to_owned() } else { format!("{} are", fish(sent(of))) }
        ),
        Stage::Arrived => "All fish are accounted for.".into(),
        Stage::Differs if of.open > 0 => format!(
            "{} fewer arrived than were sent. Both numbers stay; after {DAYS} days an officer settles the difference.",
            of.open
        ),
        Stage::Differs => format!(
            "{} more arrived than were sent. Both numbers stay; after {DAYS} days an officer settles the difference.",
            -of.open
        ),
        Stage::Unmatched => {
            "It arrived here, but nobody is known to have sent it to you under this id. It is matched when the giver\u{2019}s \
             record comes in."
                .into()
        }
        Stage::Returned => "It came back to the room that sent it.".into(),
        Stage::Settled => match of.giver.and_then(|giver| giver.settled.as_ref()) {
            Some(settled) => format!("An officer settled it as {}: {}", settled.outcome.word(), settled.why),
            None => String::new(),
        },
    }
}

fn line(id: ParcelId, sides: &[Side], wall: Wall) -> Line {
    let of = standing(sides);
    let moment = |at: Option<(_, tarn_domain::streams::At)>| at.map(|(_, at)| wall.lately(at.seconds()));
    let handed = moment(of.giver.and_then(|giver| giver.handed)).map(|at| format!("Handed over {at}"));
    let came = moment(of.receiver.and_then(|came| came.arrived)).map(|at| format!("arrived {at}"));
    let second: Vec<String> = handed.into_iter().chain(came).collect();
    Line {
        href: format!("/parcels/{id}"),
        name: Words::plain(name(&of)),
        state: Some(state(of.stage)),
        sentence: sentence(&of),
        second: second.join(", "),
    }
}

/// The list.
pub fn parcels_page(
    page: Page,
    all: &[(ParcelId, Vec<Side>)],
    overdue: &[Overdue],
    wall: Wall,
) -> ParcelsPage {
    let waits =
        all.iter().filter(|(_, sides)| matches!(standing(sides).stage, Stage::Sent | Stage::Packed)).count();
    let mut lead = match (all.len(), waits) {
        (0, _) => "You have no parcel.".to_owned(),
        (_, 0) => "Nothing is in a bag or on its way.".to_owned(),
        (_, 1) => "One is in the bag or on its way.".to_owned(),
        (_, n) => format!("{n} are in the bag or on their way."),
    };
    match overdue.len() {
        0 => {}
        1 => lead.push_str(" One of your club waits for an officer."),
        n => lead.push_str(&format!(" {n} of your club wait for an officer.")),
    }
    let waiting = |found: &Overdue| Line {
        href: format!("/parcels/{}", found.parcel),
        name: Words::plain(format!("{} not accounted for", fish(found.open.total()))),
        state: Some(State { word: "open", tone: Tone::Ochre }),
        sentence: "Ask both sides what became of them, then settle it.".into(),
        second: format!("Handed over {}", wall.lately(found.handed.seconds())),
    };
    ParcelsPage {
        page,
        lead,
        overdue: overdue.iter().map(waiting).collect(),
        lines: all.iter().map(|(id, sides)| line(*id, sides, wall)).collect(),
    }
}

/// What a parcel's page is made of.
pub struct ParcelParts<'a> {
    /// Which.
    pub id: ParcelId,
    /// What the reader may see of it.
    pub sides: &'a [Side],
    /// If the reader may settle it: how it stands.
    pub overdue: Option<&'a Overdue>,
    /// Whether the reader is the addressee.
    pub for_reader: bool,
    /// What an officer typed, and what is wrong with it.
    pub typed: SettleTyped,
    /// What was refused.
    pub problem: Option<&'a Problem>,
    /// A new id for the form.
    pub new: String,
}

fn kind(node: Node, sex: Sex, copies: &[Ancestor]) -> String {
    let sex = match sex {
        Sex::Male => "males",
        Sex::Female => "females",
        Sex::Unsexed => "not sexed",
        Sex::Eggs => "eggs",
        Sex::Any => "of whichever sex",
    };
    let Node::Of(id) = node else { return format!("not told apart, {sex}") };
    let copy = copies.iter().find(|copy| copy.node == id);
    match copy.and_then(|copy| copy.code().or(copy.species())) {
        Some(name) => format!("{name}, {sex}"),
        None => format!("a lineage that is not told, {sex}"),
    }
}

/// One parcel.
pub fn parcel_page(page: Page, parts: &ParcelParts<'_>, wall: Wall) -> ParcelPage {
    let of = standing(parts.sides);
    let mut facts = Vec::new();
    let mut fact = |name: &str, value: Option<String>| {
        facts.extend(value.map(|value| Fact { name: name.into(), value: Words::plain(value) }));
    };
    let handed = of
        .giver
        .and_then(|giver| giver.handed)
        .or(parts.overdue.map(|o| (tarn_domain::streams::OpId(o.parcel.0), o.handed)));
    fact("Handed over", handed.map(|(_, at)| wall.moment(at.seconds())));
    let came = of.receiver.or(of.giver.filter(|giver| giver.is_returned()));
    fact("Arrived", came.and_then(|came| came.arrived).map(|(_, at)| wall.moment(at.seconds())));
    let open = parts.overdue.map_or(of.open, |found| found.open.total());
    fact("Still open", (open != 0).then(|| open.to_string()));
    let copies: Vec<Ancestor> = of.giver.or(came).map(|side| side.ancestry.clone()).unwrap_or_default();
    let rows = of
        .lines
        .iter()
        .map(|((node, sex), n)| FishLine {
            name: kind(*node, *sex, &copies),
            sent: n.sent,
            alive: n.alive,
            dead: n.dead,
        })
        .collect();
    let title = format!("{} not accounted for", fish(open));
    let (state, lead) = match parts.overdue {
        Some(_) if parts.sides.is_empty() => (
            State { word: "open", tone: Tone::Ochre },
            format!(
                "{title}, {DAYS} days after it was handed over or more. Ask both sides; then say what became of them."
            ),
        ),
        _ => (state(of.stage), sentence(&of)),
    };
    let arrive = format!("tarn parcel arrive {} --tank TANK", parts.id);
    ParcelPage {
        page,
        state,
        lead,
        errors: parts.problem.map(|problem| FormErrors::of("Not settled", problem)),
        facts,
        rows,
        command: (parts.for_reader && of.stage == Stage::Sent).then_some(arrive),
        form: parts.overdue.map(|_| {
            let words = |outcome| match outcome {
                Outcome::Arrived => "They arrived; nobody wrote it down, or another number",
                Outcome::Returned => "They went back to the giver",
                Outcome::Lost => "They were lost on the way",
            };
            let options = Outcome::ALL.map(|outcome| (outcome.word().to_owned(), words(outcome).to_owned()));
            let missing = parts.problem.is_some_and(|p| p.faults().iter().any(|(at, _)| *at == "/outcome"));
            SettleForm {
                action: format!("/parcels/{}/settlement", parts.id),
                id: parts.new.clone(),
                outcome: Choice::of("outcome", "What became of the fish that are open?", options)
                    .typed(&parts.typed.outcome, missing.then(|| "Choose one.".to_owned())),
                why: Field::new("why", "Why")
                    .hint(Words::plain("Both sides read it."))
                    .typed(&parts.typed.why, parts.problem),
            }
        }),
    }
}

/// The form of a parcel in quarantine.
pub fn agree_page(
    page: Page,
    (room, unit): (impl std::fmt::Display, impl std::fmt::Display),
    fish: &str,
    typed: (&str, &str),
    problem: Option<&Problem>,
    new: String,
) -> AgreePage {
    AgreePage {
        page,
        lead: format!("{fish} may leave in one parcel to one keeper, if their room must be emptied."),
        errors: problem.map(|problem| FormErrors::of("Not agreed", problem)),
        action: format!("/parcels/agree/{room}/{unit}"),
        id: new,
        to: Field::new("to", "For whom, by login name").typed(typed.0, problem),
        why: Field::new("why", "Why they can\u{2019}t stay")
            .hint(Words::plain("Death, illness, fire, power: it stands in the room\u{2019}s records."))
            .typed(typed.1, problem),
        leave: format!("/units/{room}/{unit}"),
    }
}
