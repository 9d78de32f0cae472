//! The page of whoever has a link to a room: what swims where, what runs, and the forms of the round. Nothing of people,
//! prices or other rooms, and no way to any other page.

use askama::Template;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::water::kept_in;
use tarn_domain::rooms::words::{Cause, Measure};
use tarn_domain::state::Memory;
use tarn_domain::streams::{AccountId, LinkId, OpId, Standing, TankId};

use super::entry::Teller;
use super::last::TakenBack;
use super::names::{Names, how_many, natural};
use super::{Beside, RoomGathered, WaterSystem, gather_room, room_page};
use crate::platform::errors::Problem;
use crate::platform::html::{Field, FormErrors, Page};
use crate::platform::parts::{Choice, EntryRow, UnitLine, needs_wide};
use crate::platform::words::{RunKind, Words};
use crate::rooms::actions::helping::Helped;
use crate::rooms::actions::read::{Look, Traces, Writers};

/// So many of the helper's own entries are shown.
const SHOWN: usize = 20;

/// `/helping/{secret}`.
#[derive(Template)]
#[template(path = "rooms/helping.html")]
pub struct HelpingPage {
    /// Layout; without a menu.
    pub page: Page,
    /// The day, and until when one helps.
    pub lead: String,
    /// What has just been written.
    pub said: Option<Words>,
    /// What is wrong with what was typed.
    pub errors: Option<FormErrors>,
    /// Where the forms post to.
    pub action: String,
    /// The form that came back.
    pub open: String,
    /// Units in quarantine, and treatments that run.
    pub units: Vec<UnitLine>,
    /// Treatments that run.
    pub treated: Vec<String>,
    /// Tanks by the water they share.
    pub systems: Vec<WaterSystem>,
    /// What the forms ask.
    pub forms: Forms,
    /// What was written with this link, the newest first.
    pub entries: Vec<EntryRow>,
}

impl HelpingPage {
    /// Whether tanks have long names here.
    fn is_wide(&self) -> bool {
        needs_wide(self.systems.iter().flat_map(|system| &system.tanks).map(|tank| tank.position.as_str()))
    }
}

/// The forms of the round.
pub struct Forms {
    /// The ids of the entries to be, one a form.
    pub ids: [String; 6],
    /// Tanks that were fed.
    pub fed_tank: Choice,
    /// What was fed.
    pub fed_food: Field,
    /// How much.
    pub fed_amount: Field,
    /// Tanks that were looked at.
    pub looked_tank: Choice,
    /// What was noticed.
    pub looked_remark: Field,
    /// Which work was done.
    pub job_what: Field,
    /// Where.
    pub job_place: Choice,
    /// Of which water.
    pub water_place: Choice,
    /// What was measured.
    pub water_what: Choice,
    /// The number.
    pub water_value: Field,
    /// With which stock.
    pub sign_stock: Choice,
    /// What was seen.
    pub sign_words: Field,
    /// Of which stock.
    pub lost_stock: Choice,
    /// How many.
    pub lost_numbers: Field,
    /// To what.
    pub lost_cause: Choice,
    /// In the helper's words.
    pub lost_reason: Field,
}

/// What the page needs of memory.
pub struct Gathered {
    /// What the room's page needs.
    pub room: RoomGathered,
    wrote: Vec<OpId>,
}

impl Gathered {
    /// The entries that the page speaks of.
    pub fn traces(&mut self) -> &mut Traces {
        &mut self.room.traces
    }
}

/// Copies it out.
pub fn gather(memory: &Memory, link: LinkId, now_ms: i64) -> Gathered {
    // the room's page of somebody who has written nothing
    let mut room = gather_room(memory, AccountId(link.0), TakenBack::default(), now_ms);
    let own = memory.latest().filter(|e| e.accepted.is_some_and(|a| a.by == link.into() && !a.decision));
    let wrote = own.take(SHOWN).map(|entry| room.traces.take(memory, entry)).collect();
    Gathered { room, wrote }
}

/// What a helper's page is made of.
pub struct Parts<'a> {
    /// The room.
    pub look: &'a Look,
    /// What was copied out.
    pub gathered: &'a Gathered,
    /// Who wrote it.
    pub writers: &'a Writers,
    /// What areas above tell.
    pub beside: Beside,
    /// Whose link it is.
    pub name: &'a str,
    /// Until when it is good, in seconds.
    pub until_s: i64,
    /// The page's own address.
    pub href: String,
    /// An entry that was just written.
    pub wrote: Option<OpId>,
    /// What was typed, if a form came back.
    pub typed: &'a Helped,
    /// The tanks that were ticked.
    pub ticked: &'a [String],
    /// Why it came back.
    pub problem: Option<&'a Problem>,
}

/// Puts the page together.
pub fn page(page: Page, parts: &Parts<'_>, mut new: impl FnMut() -> OpId) -> HelpingPage {
    let Parts { look, gathered, writers, beside, .. } = *parts;
    let room = room_page(page, look, &gathered.room, writers, beside, TakenBack::default(), &mut new);
    let states = look.states();
    let names = Names { states: &states, beside };
    let teller = Teller { names, wall: look.wall, about: None, by_tank: false };
    let tell = |body: Option<&Body>| body.map_or_else(Words::default, |body| teller.tell(body).capital());
    let traces = gathered.wrote.iter().filter_map(|op| gathered.room.traces.get(*op));
    let entries = traces.map(|trace| {
        let taken_back = trace.standing == Standing::Withdrawn;
        EntryRow {
            anchor: format!("e-{}", trace.op),
            when: look.wall.brief(trace.at.seconds()),
            what: tell(trace.body.as_deref()),
            note: taken_back.then(|| "Taken back by a keeper.".to_owned()),
            who: parts.name.to_owned(),
            taken_back,
            own_page: None,
        }
    });
    let units = (beside.units)(&states, &look.quarantine, look.id, look.wall).into_iter();
    let units = units.filter(|unit| unit.stocks.iter().any(|stock| states.stocks.contains_key(stock)));
    let units = units.map(|unit| UnitLine { link: None, in_the_way: None, ..unit.line });
    let said = parts.wrote.filter(|op| gathered.wrote.contains(op));
    let said = said.and_then(|op| gathered.room.traces.get(op)).map(|trace| {
        Words::plain("Written: ").then(tell(trace.body.as_deref()).quoted()).and(RunKind::Plain, ".")
    });
    HelpingPage {
        lead: format!(
            "{}. You help here until {}. What you write is kept at once, with your name.",
            look.wall.today(),
            look.wall.moment(parts.until_s)
        ),
        said,
        errors: parts.problem.map(|problem| FormErrors::of("Not written", problem)),
        action: parts.href.clone(),
        open: if parts.problem.is_some() { parts.typed.what.clone() } else { String::new() },
        units: units.collect(),
        treated: treated(&teller),
        systems: room.systems,
        forms: forms(parts, &names, new),
        entries: entries.collect(),
        page: room.page,
    }
}

/// Treatments that run in the waters that are shown; on whose word is the keeper's business.
fn treated(teller: &Teller<'_>) -> Vec<String> {
    let (names, wall) = (teller.names, teller.wall);
    let running = names.states.treatments.values().filter(|t| t.until.is_none());
    let told = running.filter_map(|t| {
        let place = match (t.system, t.tank) {
            (Some(id), _) => names.states.systems.contains_key(&id).then(|| names.system(id)),
            (None, Some(id)) => names.states.tanks.contains_key(&id).then(|| names.tank(id)),
            (None, None) => None,
        }?;
        let since = wall.moment(t.from?.seconds());
        let end =
            t.to_end.map_or_else(String::new, |end| format!(", to end on {}", wall.moment(end.seconds())));
        let what = t.what.as_deref().map(str::trim).filter(|what| !what.is_empty());
        let what = what.or_else(|| Some(t.with?.plain())).unwrap_or("something");
        Some(format!("{place} has been treated since {since}{end}: {what}."))
    });
    told.collect()
}

fn forms(parts: &Parts<'_>, names: &Names<'_>, mut new: impl FnMut() -> OpId) -> Forms {
    let Parts { typed, problem, .. } = *parts;
    let states = names.states;
    let optional = |field: Field| Field { required: false, ..field };
    let fault = |name: &str| {
        let at = format!("/{name}");
        let faults = problem.map(Problem::faults).unwrap_or_default();
        faults.into_iter().find(|(pointer, _)| *pointer == at).map(|(_, why)| why.to_owned())
    };
    let mut tanks: Vec<(TankId, String)> = states.tanks.keys().map(|id| (*id, names.tank(*id))).collect();
    tanks.sort_by_cached_key(|(_, name)| natural(name));
    let ticks = |name: &'static str, what: &str| {
        let all = tanks.iter().map(|(id, name)| (id.to_string(), name.clone()));
        let mut choice = Choice::of(name, "Which tanks", all).typed("", fault(name));
        for option in choice.options.iter_mut().filter(|_| typed.what == what) {
            option.chosen = parts.ticked.contains(&option.value);
        }
        choice
    };
    let mut waters: Vec<(String, String)> =
        states.systems.keys().map(|id| (id.to_string(), names.system(*id))).collect();
    waters.sort_by_cached_key(|(_, name)| natural(name));
    waters.extend(tanks.iter().map(|(id, name)| (id.to_string(), name.clone())));
    let places = |name: &'static str, label: &'static str, typed: &str, required: bool| {
        let choice = Choice::of(name, label, waters.clone()).typed(typed, fault(name));
        Choice { required, ..choice }
    };
    let living = states.stocks.iter().filter(|(_, stock)| stock.total() > 0);
    let mut stocks: Vec<(String, String)> = living
        .map(|(id, stock)| {
            let place = names.place(stock.place().flatten());
            (id.to_string(), format!("{place}: {}, {}", names.stock(*id).text(), how_many(stock)))
        })
        .collect();
    stocks.sort_by_cached_key(|(_, words)| natural(words));
    let of_stocks = |name: &'static str, typed: &str| {
        Choice::of(name, "Which fish", stocks.clone()).typed(typed, fault(name))
    };
    let measures = Measure::ALL.iter().map(|what| {
        let unit = kept_in(*what);
        let unit = if unit.is_empty() || *what == Measure::Ph { String::new() } else { format!(", {unit}") };
        (what.word().to_owned(), format!("{}{unit}", what.plain()))
    });
    let causes = Cause::ALL.iter().map(|cause| (cause.word().to_owned(), cause.plain().to_owned()));
    Forms {
        ids: std::array::from_fn(|_| new().to_string()),
        fed_tank: ticks("fed_tank", "fed"),
        fed_food: Field::new("fed_food", "What").typed(&typed.fed_food, problem),
        fed_amount: optional(Field::new("fed_amount", "How much")).typed(&typed.fed_amount, problem),
        looked_tank: ticks("looked_tank", "looked"),
        looked_remark: optional(Field::new("looked_remark", "What you noticed"))
            .typed(&typed.looked_remark, problem),
        job_what: Field::new("job_what", "What was done")
            .hint("A water change, a filter that was rinsed.")
            .typed(&typed.job_what, problem),
        job_place: places("job_place", "Where", &typed.job_place, false),
        water_place: places("water_place", "Of which water", &typed.water_place, true),
        water_what: Choice::of("water_what", "What was measured", measures)
            .typed(&typed.water_what, fault("water_what")),
        water_value: Field::new("water_value", "The value")
            .hint("With its unit, as in 24.6 C, 75 F or 20 mg/L.")
            .typed(&typed.water_value, problem),
        sign_stock: of_stocks("sign_stock", &typed.sign_stock),
        sign_words: Field::new("sign_words", "What you saw").typed(&typed.sign_words, problem),
        lost_stock: of_stocks("lost_stock", &typed.lost_stock),
        lost_numbers: Field::new("lost_numbers", "How many")
            .hint("As in 1, 2 m 3 f or about 5.")
            .typed(&typed.lost_numbers, problem),
        lost_cause: Choice::of("lost_cause", "Lost to", causes).typed(&typed.lost_cause, fault("lost_cause")),
        lost_reason: optional(Field::new("lost_reason", "In your words")).typed(&typed.lost_reason, problem),
    }
}
