//! The page of a brood: what it is, the picture of its ancestry, the same in words, and where its fish are.

use askama::Template;
use tarn_domain::lineage::{BroodCopy, BroodName};
use tarn_domain::rooms::Node;

use super::ancestry::{month, sounding};
use super::sounding::{Row, Sounding};
use crate::lineage::actions::brood::{Holding, Seen};
use crate::platform::drawing::Picture;
use crate::platform::html::Page;
use crate::platform::words::{RunKind, Words};
use crate::rooms::views::how_many_of;

/// `/broods/{brood}`.
#[derive(Template)]
#[template(path = "lineage/brood.html")]
pub struct BroodPage {
    /// Layout.
    pub page: Page,
    /// "Ancestry of AC-26-01".
    pub heading: Words,
    /// What it is.
    pub lead: Words,
    /// "Eight generations".
    pub depth: String,
    /// The ancestry.
    pub picture: Option<Picture>,
    /// How the picture is read.
    pub legend: String,
    /// What it goes back to, all told.
    pub goes_back: String,
    /// Everything, the nearest first.
    pub rows: Vec<RowOfPage>,
    /// Living fish of it in the reader's rooms.
    pub holdings: Vec<HoldingRow>,
}

/// A brood or founders of the ancestry.
pub struct RowOfPage {
    /// What it is called.
    pub name: Words,
    /// Its own page.
    pub href: Option<String>,
    /// What is known of it.
    pub told: Words,
}

/// Living fish.
pub struct HoldingRow {
    /// What the stock is called.
    pub stock: Words,
    /// Its page.
    pub href: String,
    /// How many of this brood.
    pub how_many: String,
    /// In which room.
    pub room: String,
}

/// Puts the page together.
pub fn page(page: impl FnOnce(String) -> Page, seen: &Seen) -> BroodPage {
    let root = seen.ancestors.iter().find(|ancestor| ancestor.node == seen.node);
    let root = root.and_then(|root| root.brood());
    let code = root.and_then(|root| root.code.clone()).unwrap_or_else(|| "a brood without a code".into());
    let sounding = sounding(seen.node, &seen.ancestors);
    let picture = sounding.picture();
    let heading = Words::plain("Ancestry of ").and(RunKind::Code, &code);
    BroodPage {
        page: page(heading.text()),
        heading,
        lead: lead(seen, root),
        depth: depth(sounding.generations()),
        legend: legend(&sounding),
        picture,
        goes_back: goes_back(&sounding),
        rows: sounding.in_words().into_iter().map(|row| of_page(row, seen)).collect(),
        holdings: seen.holdings.iter().filter_map(|holding| of_holding(holding, seen)).collect(),
    }
}

fn of_page(row: Row, seen: &Seen) -> RowOfPage {
    let href = (row.is_brood && row.node != seen.node).then(|| format!("/broods/{}", row.node));
    RowOfPage { name: row.name, href, told: row.told }
}

fn of_holding(holding: &Holding, seen: &Seen) -> Option<HoldingRow> {
    let stock = holding.stock()?;
    let name = stock.name.as_deref().map(str::trim).filter(|name| !name.is_empty());
    let species = stock.species.as_deref().map(Words::species);
    let stock_words = match (species, name) {
        (Some(species), Some(name)) => species.and(RunKind::Plain, format!(", {name}")),
        (Some(species), None) => species,
        (None, name) => Words::plain(name.unwrap_or("Fish without a name")),
    };
    Some(HoldingRow {
        stock: stock_words,
        href: format!("/rooms/{}/stocks/{}", holding.room, holding.stock),
        how_many: how_many_of(stock, Node::Of(seen.node)),
        room: holding.room_name.clone(),
    })
}

/// Species as kept, form, line; who determined it, how sure; a cross; when it was bred.
fn lead(seen: &Seen, root: Option<&BroodCopy>) -> Words {
    let copied = |root: &BroodCopy| BroodName {
        species: root.species.clone(),
        form: root.form.clone(),
        trade: root.trade.clone(),
        collection: root.collection.clone(),
        line: root.line.clone(),
        sure: root.sure,
        ..BroodName::default()
    };
    let name = seen.home.as_ref().map(|home| home.name.clone());
    let name = name.or_else(|| root.map(copied)).unwrap_or_default();
    let mut words = match &name.species {
        Some(species) => Words::species(species),
        None => Words::plain("Species not said"),
    };
    if let Some(form) = &name.form {
        words = words.and(RunKind::Plain, format!(" \u{201c}{form}\u{201d}"));
    }
    if let Some(line) = &name.line {
        words = words.and(RunKind::Plain, format!(", line {line}"));
    }
    if let Some(trade) = &name.trade {
        words = words.and(RunKind::Plain, format!(", in the trade \u{201c}{trade}\u{201d}"));
    }
    if let Some(collection) = &name.collection {
        words = words.and(RunKind::Plain, ", collection ").and(RunKind::Code, collection);
    }
    let cross = if root.is_some_and(|root| root.cross) {
        ". A cross: parents of different species, places or lines are among its ancestors."
    } else {
        "."
    };
    words.and(RunKind::Plain, format!("{cross}{}{}", determined(&name), bred(seen, root)))
}

fn determined(name: &BroodName) -> String {
    match (&name.determined_by, name.sure) {
        (Some(who), Some(true)) => format!(" Determined by {who}, sure."),
        (Some(who), Some(false)) => format!(" Determined by {who}, not sure."),
        (Some(who), None) => format!(" Determined by {who}."),
        (None, Some(true)) => " The determination is sure.".into(),
        (None, Some(false)) => " The determination is not sure.".into(),
        (None, None) => String::new(),
    }
}

fn bred(seen: &Seen, root: Option<&BroodCopy>) -> String {
    let found = root.and_then(|root| root.month.as_deref()).map(month);
    match (&seen.home, found) {
        (Some(_), Some(month)) => format!(" Bred in your room, {month}."),
        (Some(_), None) => " Bred in your room.".into(),
        (None, Some(month)) => format!(" Bred elsewhere, {month}; told with the fish that came to you."),
        (None, None) => " Bred elsewhere; told with the fish that came to you.".into(),
    }
}

fn depth(generations: usize) -> String {
    const WORDS: [&str; 9] = [
        "No parents known",
        "One generation",
        "Two generations",
        "Three generations",
        "Four generations",
        "Five generations",
        "Six generations",
        "Seven generations",
        "Eight generations",
    ];
    WORDS.get(generations).map_or_else(|| format!("{generations} generations"), |words| (*words).to_owned())
}

fn legend(sounding: &Sounding) -> String {
    let mut legend = "Read down: each step is one generation deeper. Full line: certain. Broken line: a candidate, one \
        of those named. \u{2642}\u{fe0e} male parents, \u{2640}\u{fe0e} female parents, with how many there were. A \
        brood that is met twice is drawn once."
        .to_owned();
    legend.push_str(" Where it is wider than the page, it moves sideways.");
    match sounding.left_out() {
        0 => {}
        1 => legend.push_str(" One more, further back, is told below."),
        n => legend.push_str(&format!(" {n} more, further back, are told below.")),
    }
    legend
}

/// "It descends from 24 broods, back to 3 groups of founders. Of 2 broods a parent is not known."
fn goes_back(sounding: &Sounding) -> String {
    let told = sounding.all_told();
    let many = |n: usize, one: &str, more: &str| if n == 1 { one.to_owned() } else { format!("{n} {more}") };
    let from = match (told.broods, told.ends) {
        (0, 0) => "Nothing is recorded of its parents.".to_owned(),
        (0, ends) => {
            format!("It descends from {}.", many(ends, "one group of founders", "groups of founders"))
        }
        (broods, 0) => format!("It descends from {}.", many(broods, "one brood", "broods")),
        (broods, ends) => format!(
            "It descends from {}, back to {}.",
            many(broods, "one brood", "broods"),
            many(ends, "one group of founders", "groups of founders")
        ),
    };
    match told.open {
        0 => from,
        n => format!("{from} Of {} a parent is not known.", many(n, "one brood", "broods")),
    }
}
