//! What was typed on a stock's page, as an entry: numbers and days are read here, whether they fit is the domain's.

use serde::Deserialize;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::choose::{NotChosen, counted, taken};
use tarn_domain::rooms::ops::{NoteWritten, StockCounted, StockLost};
use tarn_domain::rooms::words::Cause;
use tarn_domain::rooms::{Came, Node, StockState, Typed as Numbers};
use tarn_domain::streams::{At, StockId};
use uuid::Uuid;

use crate::platform::Result;
use crate::platform::day::Wall;
use crate::platform::errors::{INVALID, Problem};

/// The most letters of a reason or note on a page.
const MOST_LETTERS: usize = 4_000;
const HOW_MANY: &str = "Say how many, as in 2.3.10 (males.females.unsexed), 2 m 3 f, 12 or about 40.";

/// What a form on a stock's page sends. Fields of the other forms are empty.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub struct Typed {
    /// The entry's id, made with the page: pressing twice is once.
    pub id: Uuid,
    /// Which form: `lost`, `counted` or `note`.
    pub what: String,
    /// How many were lost.
    pub lost_numbers: String,
    /// Of which brood.
    pub lost_node: String,
    /// To what.
    pub lost_cause: String,
    /// In the keeper's words.
    pub lost_reason: String,
    /// When; empty: now.
    pub lost_when: String,
    /// How many were counted.
    pub counted_numbers: String,
    /// Of which brood.
    pub counted_node: String,
    /// `all` or `some`.
    pub counted_all: String,
    /// When; empty: now.
    pub counted_when: String,
    /// The words.
    pub note_text: String,
    /// When; empty: now.
    pub note_when: String,
}

/// Collects what is wrong, field by field.
#[derive(Default)]
pub(super) struct Faults(Vec<(&'static str, String)>);

impl Faults {
    /// What was read, or none once its fault is noted.
    pub(super) fn note<T>(&mut self, field: &'static str, read: std::result::Result<T, String>) -> Option<T> {
        read.map_err(|why| self.0.push((field, why))).ok()
    }

    /// Whether nothing is wrong.
    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// All of it as one refusal.
    pub(super) fn problem(self) -> Problem {
        let detail = match self.0.len() {
            1 => "One answer is missing or can\u{2019}t be read",
            2 => "Two answers are missing or can\u{2019}t be read",
            _ => "Some answers are missing or can\u{2019}t be read",
        };
        let problem = Problem::new(&INVALID).detail(detail);
        self.0.into_iter().fold(problem, |problem, (at, why)| problem.at(at, why))
    }
}

/// Reads the form as an entry about a stock.
///
/// # Errors
/// `invalid`, with what is wrong field by field.
pub fn read(typed: &Typed, id: StockId, stock: &StockState, wall: Wall) -> Result<(Option<At>, Body)> {
    let mut faults = Faults::default();
    let read = match typed.what.as_str() {
        "lost" => lost(typed, id, stock, wall, &mut faults),
        "counted" => count(typed, id, stock, wall, &mut faults),
        "note" => note(typed, id, wall, &mut faults),
        _ => return Err(Problem::new(&INVALID).detail("There is no such form.")),
    };
    match read {
        Some(read) if faults.0.is_empty() => Ok(read),
        _ => Err(faults.problem()),
    }
}

fn lost(
    typed: &Typed,
    id: StockId,
    stock: &StockState,
    wall: Wall,
    faults: &mut Faults,
) -> Option<(Option<At>, Body)> {
    let numbers = faults.note("/lost_numbers", numbers(&typed.lost_numbers));
    let node = faults.note("/lost_node", node(&typed.lost_node));
    let cause = typed.lost_cause.parse::<Cause>().map_err(|_| "Choose what they were lost to.".to_owned());
    let cause = faults.note("/lost_cause", cause);
    let reason = faults.note("/lost_reason", short(&typed.lost_reason));
    let at = faults.note("/lost_when", when(&typed.lost_when, wall));
    let rows = taken(&stock.numbers, &numbers?, node?, own_node(stock)).map_err(|no| not_chosen(&no));
    let rows = faults.note("/lost_numbers", rows)?;
    Some((
        at?,
        Body::StockLost(StockLost { stock: id, rows, cause: cause?, reason: reason?, incident: None }),
    ))
}

fn count(
    typed: &Typed,
    id: StockId,
    stock: &StockState,
    wall: Wall,
    faults: &mut Faults,
) -> Option<(Option<At>, Body)> {
    let numbers = faults.note("/counted_numbers", numbers(&typed.counted_numbers));
    let node = faults.note("/counted_node", node(&typed.counted_node));
    let all = match typed.counted_all.as_str() {
        "all" => Ok(true),
        "some" => Ok(false),
        _ => Err("Say whether there are no others.".to_owned()),
    };
    let all = faults.note("/counted_all", all);
    let at = faults.note("/counted_when", when(&typed.counted_when, wall));
    let (node, all) = (node?, all?);
    // A count of one brood among several says nothing of the others.
    let all = all && (node.is_none() || tarn_domain::rooms::choose::nodes(&stock.numbers).len() < 2);
    let rows = counted(&stock.numbers, &numbers?, node, own_node(stock), all).map_err(|no| not_chosen(&no));
    let rows = faults.note("/counted_numbers", rows)?;
    Some((at?, Body::StockCounted(StockCounted { stock: id, rows, all })))
}

fn note(typed: &Typed, id: StockId, wall: Wall, faults: &mut Faults) -> Option<(Option<At>, Body)> {
    let text = short(&typed.note_text)
        .and_then(|text| text.ok_or_else(|| "There is nothing in the note yet.".to_owned()));
    let text = faults.note("/note_text", text);
    let at = faults.note("/note_when", when(&typed.note_when, wall));
    Some((at?, Body::NoteWritten(NoteWritten { stock: Some(id), tank: None, text: text? })))
}

fn numbers(text: &str) -> std::result::Result<Numbers, String> {
    text.parse::<Numbers>().map_err(|_| HOW_MANY.to_owned())
}

fn node(text: &str) -> std::result::Result<Option<Node>, String> {
    let read = || serde_json::from_value(text.into());
    if text.is_empty() {
        Ok(None)
    } else {
        read().map(Some).map_err(|_| "Choose one of the list.".to_owned())
    }
}

fn short(text: &str) -> std::result::Result<Option<String>, String> {
    let text = text.trim();
    if text.chars().count() > MOST_LETTERS {
        return Err("At most 4,000 letters; write the rest as a second note.".into());
    }
    Ok((!text.is_empty()).then(|| text.to_owned()))
}

fn when(text: &str, wall: Wall) -> std::result::Result<Option<At>, String> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    match wall.read(text) {
        None => Err("Write day and time as in 2026-05-25T18:40, or leave it empty for now.".into()),
        Some(at) if at > wall.now_s() => Err("This time is still to come.".into()),
        Some(at) => Ok(Some(At::from_seconds(at))),
    }
}

/// The lineage of a stock whose records have no fish left.
fn own_node(stock: &StockState) -> Node {
    match (&stock.founders, &stock.came) {
        (Some(founders), _) => Node::Of(founders.node),
        (None, Some(Came::Born { brood })) => Node::Of(*brood),
        _ => Node::Unassigned,
    }
}

fn not_chosen(no: &NotChosen) -> String {
    match no {
        NotChosen::Which(_) => "Fish of several broods are in this stock: say of which.".into(),
        NotChosen::BySex => "This stock is recorded by sex: count it by sex, as in 2.3.10.".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Thu 7 May 2026, 10:00 UTC.
    const NOON_MS: i64 = 1_778_148_000_000;

    fn stock() -> StockState {
        tarn_domain::rooms::fold_stock(&[])
    }

    #[test]
    fn every_answer_that_is_missing_is_named() {
        let wall = Wall::new("UTC", NOON_MS);
        let typed = Typed { what: "lost".into(), lost_when: "2026-05-07T10:01".into(), ..Typed::default() };
        let no = read(&typed, StockId(Uuid::nil()), &stock(), wall).expect_err("nothing was said");
        let at: Vec<&str> = no.faults().into_iter().map(|(at, _)| at).collect();
        assert_eq!(at, ["/lost_numbers", "/lost_cause", "/lost_when"]);
    }

    #[test]
    fn what_is_typed_is_what_is_kept() {
        let wall = Wall::new("Europe/Oslo", NOON_MS);
        let typed = Typed {
            what: "lost".into(),
            lost_numbers: "1 f".into(),
            lost_cause: "jumped".into(),
            lost_when: "2026-05-07T11:30".into(),
            ..Typed::default()
        };
        let (at, body) = read(&typed, StockId(Uuid::nil()), &stock(), wall).expect("an entry");
        assert_eq!(at.map(|at| at.to_string()).as_deref(), Some("2026-05-07T09:30:00Z"));
        assert!(matches!(body, Body::StockLost(lost) if lost.rows[0].n.get() == 1 && lost.reason.is_none()));
    }
}
