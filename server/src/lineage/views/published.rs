//! The pages of stock lists.

use askama::Template;
use tarn_domain::streams::StreamId;
use uuid::Uuid;

use crate::lineage::actions::published::{Audience, ListRow, Setting, StockList};
use crate::platform::errors::Problem;
use crate::platform::html::{FormErrors, Link, Page};
use crate::platform::parts::Choice;
use crate::platform::words::{RunKind, Words};
use crate::rooms::views::parts_in_words;

/// `/lists`.
#[derive(Template)]
#[template(path = "lineage/lists.html")]
pub struct ListsPage {
    page: Page,
    lead: String,
    lists: Vec<ListLine>,
    older: Option<Link>,
    own: Vec<OwnLine>,
}

/// A list among others.
pub struct ListLine {
    href: String,
    who: String,
    /// "Poecilia wingei; Xenotoca eiseni, 2 broods".
    species: Words,
    mine: bool,
}

/// What is set for a room of the reader's.
pub struct OwnLine {
    room: String,
    sentence: String,
    href: String,
}

/// `/lists/{room}`.
#[derive(Template)]
#[template(path = "lineage/list.html")]
pub struct ListPage {
    page: Page,
    lead: String,
    rows: Vec<Row>,
    own: Option<Link>,
}

/// Fish of one kind and brood.
pub struct Row {
    name: Words,
    code: Option<String>,
    how_many: String,
}

/// `/rooms/{room}/published`.
#[derive(Template)]
#[template(path = "lineage/published.html")]
pub struct SettingPage {
    page: Page,
    lead: String,
    said: Option<Words>,
    errors: Option<FormErrors>,
    version: i32,
    to: Choice,
    name: Choice,
    preview: Vec<Row>,
    list: Link,
}

/// The species of a list, each once.
fn species(list: &StockList) -> Words {
    let mut names: Vec<&str> = list.rows.iter().filter_map(|row| row.species.as_deref()).collect();
    names.dedup();
    let mut words = Words::default();
    for (at, name) in names.iter().enumerate() {
        let comma = if at == 0 { "" } else { ", " };
        words = words.and(RunKind::Plain, comma).then(Words::species(name));
    }
    if names.is_empty() { Words::plain("Nothing that may leave at present.") } else { words }
}

/// The line of a room of the reader's.
pub fn own(name: &str, room: StreamId, set: &Setting) -> OwnLine {
    OwnLine { room: name.to_owned(), sentence: goes_to(set), href: format!("/rooms/{room}/published") }
}

fn goes_to(set: &Setting) -> String {
    let clubs = match &set.clubs[..] {
        [] => "no club, since none of its keepers is in one".to_owned(),
        clubs => format!("the members of {}", clubs.join(", ")),
    };
    match set.to {
        Audience::Nobody => "Its stock list goes to nobody.".into(),
        Audience::Club => format!("Its stock list goes to {clubs}, as of {}.", set.who),
        Audience::Everyone => {
            format!("Its stock list goes to everybody who is signed in, as of {}.", set.who)
        }
    }
}

/// All lists that the reader may read.
pub fn lists_page(
    page: Page,
    lists: &[StockList],
    own: Vec<OwnLine>,
    later: bool,
    next: Option<Uuid>,
) -> ListsPage {
    let lead = match (lists.len(), next.is_some() || later) {
        (0, _) => "Nobody publishes a stock list that you may read.".to_owned(),
        (_, true) => "Keepers publish these lists of fish that may leave.".into(),
        (1, _) => "One keeper publishes a list of fish that may leave.".into(),
        (n, _) => format!("{n} keepers publish lists of fish that may leave."),
    };
    let line = |list: &StockList| ListLine {
        href: format!("/lists/{}", list.room),
        who: list.who.strip_prefix("a ").map_or_else(|| list.who.clone(), |rest| format!("A {rest}")),
        species: species(list),
        mine: list.mine,
    };
    let older = next.map(|next| Link { href: format!("/lists?after={next}"), words: "More lists".into() });
    ListsPage { page, lead, lists: lists.iter().map(line).collect(), older, own }
}

/// One list.
pub fn list_page(page: impl FnOnce(String) -> Page, list: &StockList) -> ListPage {
    let many = match list.rows.len() {
        0 => "No fish may leave at present.".to_owned(),
        1 => "One kind of fish that may leave.".into(),
        n => format!("{n} kinds and broods of fish that may leave."),
    };
    let yours = match (list.mine, list.to) {
        (true, Audience::Nobody) => " This is your list; nobody else sees it.",
        (true, _) => " This is your list.",
        (false, _) => "",
    };
    let own = Link { href: format!("/rooms/{}/published", list.room), words: "Who sees this list".into() };
    ListPage {
        page: page(format!("Stock of {}", list.who)),
        lead: format!("{many} What quarantine holds is not on it.{yours}"),
        rows: list.rows.iter().map(row).collect(),
        own: list.mine.then_some(own),
    }
}

fn row(row: &ListRow) -> Row {
    let mut name = match (&row.species, &row.trade) {
        (Some(species), _) => Words::species(species),
        (None, Some(trade)) => Words::plain(trade),
        (None, None) => Words::plain("Species not said"),
    };
    if let Some(form) = &row.form {
        name = name.and(RunKind::Plain, format!(" \u{201c}{form}\u{201d}"));
    }
    if let (Some(_), Some(trade)) = (&row.species, &row.trade) {
        name = name.and(RunKind::Plain, format!(", in the trade {trade}"));
    }
    Row { name, code: row.code.clone(), how_many: parts_in_words(&row.numbers) }
}

/// Who sees one's own list.
pub fn setting_page(
    page: Page,
    shown_name: &str,
    set: &Setting,
    list: &StockList,
    came_back: Option<((&str, &str), &Problem)>,
    done: bool,
) -> SettingPage {
    let problem = came_back.map(|(_, problem)| problem);
    let error = |pointer: &str| {
        let faults = problem?.faults();
        faults.into_iter().find(|(at, _)| *at == pointer).map(|(_, why)| why.to_owned())
    };
    let name = if set.name.as_deref() == Some(shown_name) { "yes" } else { "no" };
    let (to, name) = came_back.map_or((set.to.as_str(), name), |(typed, _)| typed);
    let clubs = match &set.clubs[..] {
        [] => "The members of your clubs (you are in none)".to_owned(),
        clubs => format!("The members of {}", clubs.join(", ")),
    };
    let audiences = [
        (Audience::Nobody, "Nobody".to_owned()),
        (Audience::Club, clubs),
        (Audience::Everyone, "Everybody who is signed in".to_owned()),
    ];
    let audiences = audiences.map(|(to, words)| (to.as_str().to_owned(), words));
    let names = [("yes", format!("{shown_name} stands on it")), ("no", "A keeper, and the club".to_owned())];
    let names = names.map(|(value, words)| (value.to_owned(), words));
    SettingPage {
        page,
        lead: format!("{} Fish that may leave stand on it: no tank, no note, no place.", goes_to(set)),
        said: done.then(|| Words::plain("Set. ").and(RunKind::Plain, goes_to(set))),
        errors: problem.map(|problem| FormErrors::of("Not set", problem)),
        version: set.version,
        to: Choice::of("to", "Who sees the list", audiences).typed(to, error("/to")),
        name: Choice::of("name", "Whose it is", names).typed(name, error("/name")),
        preview: list.rows.iter().map(row).collect(),
        list: Link { href: format!("/lists/{}", list.room), words: "The list as others see it".into() },
    }
}
