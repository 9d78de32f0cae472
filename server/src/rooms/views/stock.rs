//! The page of a stock: how many, where, since when; where it has been; every entry about it and its water.

use tarn_domain::catalogue::Body;
use tarn_domain::rooms::{Sex, StockState};
use tarn_domain::state::Memory;
use tarn_domain::streams::{AccountId, At, Entity, OpId, Standing, StockId};

use super::entry::Teller;
use super::findings::{self, Found};
use super::last::{TakenBack, find, first_upper, last_entry, said, take_said};
use super::names::{Names, how_many};
use super::{Beside, NumberRow, StayRow, StockPage, WriteForms};
use crate::platform::errors::Problem;
use crate::platform::html::{FormErrors, Link, Page};
use crate::platform::parts::EntryRow;
use crate::platform::words::{RunKind, Words};
use crate::rooms::actions::entry::Typed;
use crate::rooms::actions::read::{Look, Trace, Traces, Writers};

/// How many entries stand on one page.
const A_PAGE: usize = 50;
/// An entry that came in later than this is said to have.
const LATE_S: i64 = 86_400;

/// What the page needs of memory.
pub struct Gathered {
    /// The entries it speaks of.
    pub traces: Traces,
    found: Vec<Found>,
    mine: Option<OpId>,
    entries: Vec<OpId>,
    entry_count: usize,
    counted: Option<At>,
}

/// Copies it out; none if there is no such stock.
pub fn gather(
    memory: &Memory,
    stock: StockId,
    account: AccountId,
    ask: TakenBack,
    now_ms: i64,
) -> Option<Gathered> {
    let thing = Entity::from(stock);
    let states = tarn_domain::state::view(memory.states().into_iter().filter(|(entity, _)| *entity == thing));
    let state = states.stocks.get(&stock)?;
    let mut traces = Traces::default();
    let found = findings::take(memory, &mut traces, Some(thing));
    let mine = find(memory, &mut traces, account, now_ms);
    take_said(memory, &mut traces, ask);
    let mut all: Vec<_> = memory.touching(thing).chain(memory.logging(thing)).collect();
    for stay in &state.stays {
        let Some(tank) = stay.tank else { continue };
        let there = |at: At| stay.from <= at && stay.until.is_none_or(|until| at < until);
        all.extend(memory.logging(tank.into()).filter(|entry| there(entry.linked.order.at)));
    }
    all.sort_unstable_by_key(|entry| std::cmp::Reverse(entry.linked.order));
    all.dedup_by_key(|entry| entry.linked.order.id);
    let counts =
        all.iter().filter(|e| e.linked.live && matches!(e.body.as_deref(), Some(Body::StockCounted(_))));
    let counted = counts.map(|entry| entry.linked.order.at).max();
    let entry_count = all.len();
    let shown = all.into_iter().skip(ask.after.unwrap_or(0)).take(A_PAGE);
    let entries = shown.map(|entry| traces.take(memory, entry)).collect();
    Some(Gathered { traces, found, mine, entries, entry_count, counted })
}

/// What a page of a stock is made of.
pub struct Parts<'a> {
    /// The room.
    pub look: &'a Look,
    /// What was copied out.
    pub gathered: &'a Gathered,
    /// Who wrote it.
    pub writers: &'a Writers,
    /// What areas above tell.
    pub beside: Beside,
    /// What the address asks for.
    pub ask: TakenBack,
    /// What was typed, if a form came back.
    pub typed: &'a Typed,
    /// Why it came back.
    pub problem: Option<&'a Problem>,
}

/// Puts the page together; none if there is no such stock.
pub fn page(
    page: impl FnOnce(String) -> Page,
    id: StockId,
    parts: &Parts<'_>,
    mut new: impl FnMut() -> OpId,
) -> Option<StockPage> {
    let Parts { look, gathered, writers, beside, ask, typed, problem } = *parts;
    let states = look.states();
    let stock = *states.stocks.get(&id)?;
    let names = Names { states: &states, beside };
    let teller = Teller { names, wall: look.wall, about: Some(id), by_tank: false };
    let heading = names.stock(id);
    let back = format!("/rooms/{}/stocks/{id}", look.id);
    let unit = (beside.units)(&states, &look.quarantine, look.id, look.wall)
        .into_iter()
        .find(|u| u.stocks.contains(&id));
    // The last entry may be about another stock, so it is named.
    let in_full = Teller { about: None, ..teller };
    let mine = gathered.mine.and_then(|op| gathered.traces.get(op));
    let shown = ask.after.unwrap_or(0) + gathered.entries.len();
    Some(StockPage {
        page: page(heading.text()),
        lead: lead(&teller, stock, gathered.counted),
        said: said(&in_full, &gathered.traces, ask),
        errors: problem.map(|problem| FormErrors::of("Not written", problem)),
        unit: unit.map(|unit| unit.line),
        held: (beside.held)(&look.quarantine, id, look.wall).filter(|_| stock.total() > 0),
        put_right: findings::tell(
            &gathered.found,
            &teller,
            &gathered.traces,
            writers,
            look.id,
            &back,
            &mut new,
        ),
        total: stock.total().to_string(),
        numbers: numbers(&names, stock),
        none_left: none_left(&teller, stock),
        write: WriteForms::new(format!("{back}/entries"), names, stock, typed, problem, &mut new),
        stays: stays(&teller, stock),
        lineage: (beside.lineage)(&states, id, look.wall),
        entry_count: gathered.entry_count,
        entries: rows(&gathered.entries, &gathered.traces, &teller, writers, Some(stock)),
        older: (shown < gathered.entry_count).then(|| Link {
            href: format!("{back}?after={shown}#entries"),
            words: format!("{} older entries", gathered.entry_count - shown),
        }),
        last: mine.map(|trace| last_entry(&in_full, trace, look.id, new(), &back)),
        printed: format!(
            "{}, {}, as recorded {}.",
            heading.text(),
            look.room.name,
            look.wall.moment(look.wall.now_s())
        ),
        heading,
    })
}

fn lead(teller: &Teller<'_>, stock: &StockState, counted: Option<At>) -> Words {
    let wall = teller.wall;
    let place = match stock.stays.iter().rfind(|stay| stay.until.is_none()) {
        Some(stay) => {
            let since = wall.lately(stay.from.seconds());
            match stay.tank {
                Some(tank) => format!(" in {}, since {since}.", teller.names.tank(tank)),
                None => format!(", in no tank, since {since}."),
            }
        }
        None => " left.".into(),
    };
    let counted = match counted {
        Some(at) => format!(" Last counted {}.", wall.lately(at.seconds())),
        None => " Not counted yet.".into(),
    };
    let keeping = stock.keeping.map_or_else(String::new, |k| format!(" Kept as {}.", k.plain()));
    let note = stock.note.as_deref().filter(|note| !note.trim().is_empty());
    let note = note.map_or_else(String::new, |note| format!(" \u{201c}{}\u{201d}", note.trim()));
    Words::plain(first_upper(&how_many(stock)))
        .and(RunKind::Plain, place)
        .and(RunKind::Plain, format!("{counted}{keeping}{note}"))
}

fn numbers(names: &Names<'_>, stock: &StockState) -> Vec<NumberRow> {
    if stock.total() == 0 {
        return Vec::new();
    }
    let row = |(key, n): ((_, Sex), i64)| {
        let about = if stock.about.contains(&key) { "about\u{a0}" } else { "" };
        let how_many = if n < 0 { format!("less {}", -n) } else { format!("{about}{n}") };
        let sex = match (key.1, n) {
            (Sex::Male, 1) => "male",
            (Sex::Male, _) => "males",
            (Sex::Female, 1) => "female",
            (Sex::Female, _) => "females",
            (Sex::Unsexed, _) => "unsexed",
            (Sex::Eggs, 1) => "egg",
            (Sex::Eggs, _) => "eggs",
            (Sex::Any, _) => "of whichever sex",
        };
        NumberRow { from: names.node(key.0), sex, how_many: Words::plain(how_many) }
    };
    stock.numbers.rows().map(row).collect()
}

fn none_left(teller: &Teller<'_>, stock: &StockState) -> String {
    match stock.stays.iter().filter_map(|stay| stay.until).max() {
        Some(until) => format!("None left since {}.", teller.wall.lately(until.seconds())),
        None => "None were recorded.".into(),
    }
}

fn stays(teller: &Teller<'_>, stock: &StockState) -> Vec<StayRow> {
    let names = teller.names;
    let one = |stay: &tarn_domain::rooms::Stay| {
        let tank = stay.tank.and_then(|id| Some((id, *names.states.tanks.get(&id)?)));
        let last =
            stay.until.map_or(teller.wall.now_s(), |until| stay.from.seconds().max(until.seconds() - 1));
        let water = match tank.map(|(_, tank)| tank.system_at(At::from_seconds(last))) {
            Some(Some(system)) => names.system(system),
            Some(None) => "its own water".into(),
            None => "in the bag, or not written down".into(),
        };
        StayRow {
            tank: tank.map_or_else(|| "none".into(), |(id, _)| names.tank(id)),
            water,
            from: teller.wall.moment(stay.from.seconds()),
            to: stay.until.map_or_else(|| "now".into(), |until| teller.wall.moment(until.seconds())),
            note: stay.doubtful.then(|| {
                "Perhaps: a move out of it was written, though the records did not have it there.".to_owned()
            }),
        }
    };
    stock.stays.iter().rev().map(one).collect()
}

/// Entries as a list shows them.
pub fn rows(
    entries: &[OpId],
    traces: &Traces,
    teller: &Teller<'_>,
    writers: &Writers,
    stock: Option<&StockState>,
) -> Vec<EntryRow> {
    entries.iter().filter_map(|op| traces.get(*op)).map(|t| row(t, teller, writers, stock)).collect()
}

fn row(trace: &Trace, teller: &Teller<'_>, writers: &Writers, stock: Option<&StockState>) -> EntryRow {
    let what = trace.body.as_deref().map_or_else(Words::default, |body| teller.tell(body));
    let corrected = stock.map_or(0, |stock| stock.correction(trace.op));
    let what = match corrected {
        0 => what,
        n if n < 0 => what.and(RunKind::Plain, format!(": {} fewer than the records said", -n)),
        n => what.and(RunKind::Plain, format!(": {n} more than the records said")),
    };
    let received = trace.received.0.div_euclid(1000);
    let late = received - trace.at.seconds() > LATE_S;
    let note = match trace.standing {
        Standing::Withdrawn => Some("Taken back.".to_owned()),
        Standing::Inert => Some("Does not count: it rests on an entry that was taken back.".to_owned()),
        _ if late && !trace.decision => Some(format!("Received {}.", teller.wall.moment(received))),
        _ => None,
    };
    EntryRow {
        anchor: format!("entry-{}", trace.op),
        when: teller.wall.moment(trace.at.seconds()),
        what,
        note,
        who: writers.of(trace),
        taken_back: !matches!(trace.standing, Standing::Live),
        own_page: trace
            .body
            .as_deref()
            .is_some_and(|body| stock.is_some() && !body.personal().is_empty())
            .then(|| format!("/rooms/{}/entries/{}", writers.room(), trace.op)),
    }
}
