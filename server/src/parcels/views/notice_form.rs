//! The form of a notice: what was typed, what is wrong with it, and what it means.

use serde::Deserialize;
use tarn_domain::parcels::{NoticeKind, NoticeSays, Price, spread_of};
use tarn_domain::rooms::{Spread, Typed};
use tarn_domain::streams::{StockId, StreamId, parse_uuid};
use uuid::Uuid;

use super::NoticeFormPage;
use crate::parcels::actions::may_leave::Where;
use crate::parcels::actions::notices::{Change, NoticeLook, Offerable, spread_of as numbers_of};
use crate::parcels::refusals::invalid;
use crate::platform::html::{Field, FormErrors, Page};
use crate::platform::parts::Choice;
use crate::platform::{Problem, Result};

/// What the form sends.
#[derive(Clone, Default, Deserialize)]
#[serde(default)]
pub struct TypedNotice {
    /// Its id, made with the page.
    pub id: String,
    /// The version that was read.
    pub version: String,
    /// On whose board.
    pub club: String,
    kind: String,
    stock: String,
    species: String,
    form: String,
    numbers: String,
    price: String,
    currency: String,
    exchange: String,
    area: String,
    pickup: String,
    all_clubs: String,
    remarks: String,
}

/// What a notice says, as the form would have it.
pub fn typed_of(look: &NoticeLook) -> TypedNotice {
    let row = &look.row;
    let spread = numbers_of(row);
    let parts =
        [(spread.males, "m"), (spread.females, "f"), (spread.unsexed, "unsexed"), (spread.eggs, "eggs")];
    let numbers = parts.iter().filter(|(n, _)| *n > 0).map(|(n, word)| format!("{n} {word}"));
    let (price, currency) = look
        .price()
        .map(|price| {
            let told = price.to_string();
            (told.rsplit('\u{a0}').next().unwrap_or_default().to_owned(), price.currency)
        })
        .unwrap_or_default();
    let hands = match (row.pickup, row.posting) {
        (true, true) => "either",
        (false, true) => "by_post",
        _ => "in_person",
    };
    TypedNotice {
        id: row.id.to_string(),
        version: row.version.to_string(),
        club: row.club.to_string(),
        kind: row.kind.clone(),
        stock: row.room.zip(row.stock).map(|(room, stock)| format!("{room}/{stock}")).unwrap_or_default(),
        species: row.species.clone(),
        form: row.form.clone().unwrap_or_default(),
        numbers: numbers.collect::<Vec<_>>().join(", "),
        price,
        currency,
        exchange: row.exchange.clone().unwrap_or_default(),
        area: row.area.clone(),
        pickup: hands.into(),
        all_clubs: if row.all_clubs { "all" } else { "club" }.into(),
        remarks: row.remarks.clone().unwrap_or_default(),
    }
}

fn text(typed: &str) -> Option<String> {
    let typed = typed.trim();
    (!typed.is_empty()).then(|| typed.to_owned())
}

/// "room/stock" of a choice.
pub(super) fn place(typed: &str) -> Option<Where> {
    let (room, stock) = typed.split_once('/')?;
    Some((StreamId(parse_uuid(room)?), StockId(parse_uuid(stock)?)))
}

/// Numbers as they were typed; none for an empty field.
pub(super) fn numbers(typed: &str) -> Result<Spread, String> {
    match typed.trim() {
        "" => Ok(Spread::default()),
        some => some.parse::<Typed>().map(|typed| spread_of(&typed)).map_err(|why| why.to_string()),
    }
}

impl TypedNotice {
    /// Nothing typed yet.
    pub fn begin(id: String) -> Self {
        Self { id, ..Self::default() }
    }

    /// What it means.
    ///
    /// # Errors
    /// `invalid`, with every field that can't be read.
    pub fn read(&self) -> Result<Change> {
        let mut faults = Vec::new();
        let mut fault = |field, why: String| faults.push((field, why));
        let kind = NoticeKind::parse(&self.kind);
        if kind.is_none() {
            fault("kind", "Choose what the notice is for.".into());
        }
        let numbers = numbers(&self.numbers).unwrap_or_else(|why| {
            fault("numbers", why);
            Spread { unsexed: 1, ..Spread::default() }
        });
        let price = match text(&self.price) {
            None => None,
            Some(amount) => match Price::typed(&amount, &self.currency) {
                Ok(price) => Some(price),
                Err(why) => {
                    fault("price", why.to_string());
                    None
                }
            },
        };
        let says = NoticeSays {
            kind: kind.unwrap_or(NoticeKind::Wanted),
            species: self.species.trim().to_owned(),
            form: text(&self.form),
            numbers,
            price,
            exchange: text(&self.exchange),
            area: self.area.trim().to_owned(),
            pickup: matches!(self.pickup.as_str(), "in_person" | "either"),
            posting: matches!(self.pickup.as_str(), "by_post" | "either"),
            remarks: text(&self.remarks.replace("\r\n", "\n")),
        };
        let stock = place(&self.stock);
        if kind.is_some() {
            // One sentence a field: what can't be read comes before what it lacks.
            let known: Vec<&str> = faults.iter().map(|(field, _)| *field).collect();
            let more = says.faults(stock.is_some()).into_iter().filter(|(field, _)| !known.contains(field));
            faults.extend(more.collect::<Vec<_>>());
        }
        if !faults.is_empty() {
            return Err(invalid(faults));
        }
        Ok(Change { says, stock, all_clubs: self.all_clubs == "all" })
    }

    /// The club that was chosen.
    pub fn club(&self) -> Option<Uuid> {
        parse_uuid(&self.club)
    }
}

/// The words for a stock in a list of one's own.
pub(super) fn offered((room, room_name, stock, known): &Offerable) -> (String, String) {
    let called = [known.species.as_deref(), known.form.as_deref(), known.name.as_deref()];
    let called: Vec<&str> = called.into_iter().flatten().filter(|text| !text.trim().is_empty()).collect();
    let called = if called.is_empty() { "fish without a name".to_owned() } else { called.join(", ") };
    (format!("{room}/{stock}"), format!("{called}: {} ({room_name})", known.spread))
}

/// What is wrong with a field.
pub(super) fn fault(problem: Option<&Problem>, field: &str) -> Option<String> {
    let pointer = format!("/{field}");
    let faults = problem.map(Problem::faults).unwrap_or_default();
    faults.into_iter().find(|(at, _)| *at == pointer).map(|(_, why)| why.to_owned())
}

/// The form's page. `changed`: the notice that is changed, else one is put up.
pub fn form(
    page: Page,
    typed: &TypedNotice,
    (clubs, stocks): (Vec<(String, String)>, &[Offerable]),
    changed: Option<&NoticeLook>,
    problem: Option<&Problem>,
) -> NoticeFormPage {
    let optional = |mut field: Field| {
        field.required = false;
        field
    };
    let choose = |name, label, all: Vec<(String, String)>, value: &str| {
        Choice::of(name, label, all).typed(value, fault(problem, name))
    };
    let pairs = |all: &[(&str, &str)]| {
        all.iter().map(|(v, w)| ((*v).to_owned(), (*w).to_owned())).collect::<Vec<_>>()
    };
    let mut hidden = vec![("id", typed.id.clone())];
    if changed.is_some() {
        hidden.extend([("version", typed.version.clone()), ("kind", typed.kind.clone())]);
    }
    let one_club = if let [(only, _)] = &clubs[..] { Some(only.clone()) } else { None };
    hidden.extend(one_club.clone().filter(|_| changed.is_none()).map(|only| ("club", only)));
    let kinds = NoticeKind::ALL.map(|kind| (kind.as_str().to_owned(), kind.words().to_owned()));
    let mut stock = choose("stock", "Out of which stock", stocks.iter().map(offered).collect(), &typed.stock)
        .hint("For what you offer. Only stocks that may leave now are listed; nobody else sees which it is.");
    stock.required = false;
    let whose = changed.map_or_else(|| "/notices".to_owned(), |look| format!("/notices/{}", look.row.id));
    NoticeFormPage {
        page,
        errors: problem.map(|problem| FormErrors::of(if changed.is_some() { "Not changed" } else { "Not put up" }, problem)),
        action: if changed.is_some() { format!("{whose}/edit") } else { whose.clone() },
        hidden,
        kind: changed.is_none().then(|| choose("kind", "What for", kinds.to_vec(), &typed.kind)),
        club: (changed.is_none() && one_club.is_none())
            .then(|| choose("club", "On whose board", clubs, &typed.club)),
        stock,
        species: Field::new("species", "Species").hint("As you keep it.").typed(&typed.species, problem),
        form: optional(Field::new("form", "Colour or fin form")).typed(&typed.form, problem),
        numbers: optional(Field::new("numbers", "How many"))
            .hint("2 m 3 f, or 2.3.10 for males, females, unsexed. Needed for what you offer.")
            .typed(&typed.numbers, problem),
        price: optional(Field::new("price", "Price"))
            .hint("Of what is for sale, for all of them together. As 12 or 12.50.")
            .typed(&typed.price, problem),
        currency: optional(Field::new("currency", "Currency")).hint("As EUR or GBP.").typed(&typed.currency, problem),
        exchange: optional(Field::new("exchange", "In exchange"))
            .hint("What you would take for what you swap.")
            .typed(&typed.exchange, problem),
        area: Field::new("area", "Area").hint("A town or region, never an address.").typed(&typed.area, problem),
        pickup: choose(
            "pickup",
            "How they change hands",
            pairs(&[("in_person", "In person"), ("by_post", "By post"), ("either", "Either")]),
            &typed.pickup,
        ),
        all_clubs: choose(
            "all_clubs",
            "Who sees it",
            pairs(&[("club", "Members of this club"), ("all", "Members of all clubs on this server")]),
            if typed.all_clubs.is_empty() { "club" } else { &typed.all_clubs },
        ),
        remarks: optional(Field::new("remarks", "Remarks")).hint("Plain text. Leave out your address and telephone; what you write to each other goes through the server.").typed(&typed.remarks, problem),
        deed: if changed.is_some() { "Change the notice" } else { "Put it up" },
        leave: whose,
    }
}
