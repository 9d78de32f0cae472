//! Why a unit's days began, or began again: in a few words for the picture, in full for the list, with the entry.

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{Cause, Run, Why};
use tarn_domain::rooms::{StockState, TurnKind};
use tarn_domain::streams::{At, OpId, StockId};

use super::course::{called, treatments};
use crate::platform::words::{RunKind, Words};
use crate::quarantine::actions::UnitLook;
use crate::rooms::views::Teller;

/// The longest sign that the picture has room for.
const SIGN_IN_PICTURE: usize = 40;

/// Why the days began.
pub struct Began {
    /// For the picture: no capital, no full stop.
    pub short: String,
    /// In full.
    pub words: Words,
    /// The entry that says so.
    pub entry: Option<OpId>,
}

/// Of one run; the first one needs no "more".
pub fn began(of: &UnitLook, teller: &Teller<'_>, run: Run, is_first: bool) -> Began {
    match run.why {
        Why::Arrived(stock) => arrived(teller, stock, run.start, is_first),
        Why::Breached(stock) => met(of, teller, stock, run.start),
        Why::Sign(op) => sign(of, op),
        Why::Loss(op) => loss(of, teller, op),
        Why::Treatment(_) => treatment(of, teller, run.start),
        Why::Keeper(op) => Began {
            short: "the keeper began them again".into(),
            words: Words::plain("The keeper began them again, at the end of a time without a look."),
            entry: Some(op),
        },
    }
}

/// The entry by which a stock is where it is from an instant on, or which made it.
fn entry(stock: Option<&StockState>, at: At) -> Option<OpId> {
    let stock = stock?;
    stock.stays.iter().find(|stay| stay.from == at).map(|stay| stay.by).or(stock.made)
}

/// Whose days they are, in a few words, where others go on beside them.
pub fn who(of: &UnitLook, teller: &Teller<'_>, run: Run) -> String {
    match run.why {
        Why::Arrived(stock) => more(teller, stock),
        Why::Breached(stock) if is_companion(of, stock) => "test companions".into(),
        Why::Breached(_) => "home fish".into(),
        _ => began(of, teller, run, false).short,
    }
}

/// "4 more fish", by what the entry says that made the stock.
fn more(teller: &Teller<'_>, id: StockId) -> String {
    let stock = teller.names.states.stocks.get(&id).copied();
    let made = stock.and_then(|s| s.turns.iter().find(|turn| turn.kind == TurnKind::Made));
    match made.map_or(0, |turn| turn.change) {
        1 => "one more fish".into(),
        n if n > 1 => format!("{n} more fish"),
        _ => "more fish".into(),
    }
}

fn is_companion(of: &UnitLook, stock: StockId) -> bool {
    of.unit.members.iter().any(|m| m.stock == stock && m.cause == Cause::Companion)
}

fn arrived(teller: &Teller<'_>, id: StockId, at: At, is_first: bool) -> Began {
    let stock = teller.names.states.stocks.get(&id).copied();
    let more = more(teller, id);
    let (short, lead) = match (is_first, more.as_str()) {
        (true, _) => ("into the water".to_owned(), "Into the water: "),
        (false, "one more fish") => {
            (format!("{more} came into this water"), "One more fish came into this water: ")
        }
        (false, _) => (format!("{more} came into this water"), "More fish came into this water: "),
    };
    let mut words = Words::plain(lead);
    words.runs.extend(teller.names.stock(id).runs);
    let words = words.and(RunKind::Plain, ".");
    Began { short, words, entry: entry(stock, at) }
}

fn met(of: &UnitLook, teller: &Teller<'_>, id: StockId, at: At) -> Began {
    let stock = teller.names.states.stocks.get(&id).copied();
    let (short, lead) = if is_companion(of, id) {
        ("test companions were put to them", "Test companions were put to them: ")
    } else {
        ("home fish began to share it", "Home fish began to share this water: ")
    };
    let mut words = Words::plain(lead);
    words.runs.extend(teller.names.stock(id).runs);
    let stay = stock.and_then(|s| s.stays.iter().rfind(|stay| stay.from <= at && stay.tank.is_some()));
    let tank = stay.and_then(|stay| stay.tank);
    let water = tank.and_then(|tank| teller.names.states.tanks.get(&tank)?.system_at(at));
    let place = match (tank, water) {
        (Some(tank), Some(system)) => {
            format!(", in {} on the water of {}.", teller.names.tank(tank), teller.names.system(system))
        }
        (Some(tank), None) => format!(", in {}.", teller.names.tank(tank)),
        _ => ".".into(),
    };
    Began { short: short.into(), words: words.and(RunKind::Plain, place), entry: entry(stock, at) }
}

fn sign(of: &UnitLook, op: OpId) -> Began {
    let body = of.traces.get(op).and_then(|trace| trace.body.clone());
    let seen = match body.as_deref() {
        Some(Body::SignSeen(b)) => b.sign.trim().to_owned(),
        _ => String::new(),
    };
    let short = match seen.chars().count() {
        1..=SIGN_IN_PICTURE => format!("sign seen: {seen}"),
        _ => "a sign was seen".to_owned(),
    };
    let words =
        if seen.is_empty() { "A sign was seen.".to_owned() } else { format!("A sign was seen: {seen}.") };
    Began { short, words: Words::plain(words), entry: Some(op) }
}

fn loss(of: &UnitLook, teller: &Teller<'_>, op: OpId) -> Began {
    let states = teller.names.states;
    let body = of.traces.get(op).and_then(|trace| trace.body.clone());
    let judged = states.facts.is_some_and(|facts| facts.judged.contains(&op));
    let (short, lead) = match body.as_deref() {
        Some(Body::StockCounted(b)) => {
            let fewer = states.stocks.get(&b.stock).map_or(0, |stock| -stock.correction(op));
            (
                format!("a count found {fewer} fewer"),
                format!("A count found {fewer} fewer than the records said: "),
            )
        }
        _ if judged => (
            "a loss a steward holds for unexplained".into(),
            "A loss that a steward holds for unexplained: ".into(),
        ),
        Some(Body::StockLost(b)) => {
            let n: i64 = b.rows.iter().map(|row| row.n.get()).sum();
            (
                format!("{n} lost, {}", b.cause.plain()),
                "A loss that is not explained, or to disease: ".to_owned(),
            )
        }
        _ => ("a loss".into(), "A loss: ".into()),
    };
    let mut words = Words::plain(lead);
    if let Some(body) = body.as_deref() {
        words.runs.extend(teller.tell(body).runs);
    }
    Began { short, words: words.and(RunKind::Plain, "."), entry: Some(op) }
}

fn treatment(of: &UnitLook, teller: &Teller<'_>, at: At) -> Began {
    let ended = treatments(of, teller).into_iter().find(|t| t.until == Some(at));
    match ended {
        Some(t) => Began {
            short: "the treatment ended".into(),
            words: Words::plain(format!("A treatment ended: {}.", called(t.state))),
            entry: t.state.until.map(|(_, op)| op),
        },
        None => Began {
            short: "they left a treated water".into(),
            words: Words::plain("They left a water that was being treated."),
            entry: None,
        },
    }
}
