//! The page of one entry.

use askama::Template;
use tarn_domain::catalogue::BLANKED;
use tarn_domain::streams::Standing;
use uuid::Uuid;

use super::Beside;
use super::entry::Teller;
use super::names::Names;
use crate::platform::errors::Problem;
use crate::platform::html::{FormErrors, Page};
use crate::platform::words::Words;
use crate::rooms::actions::read::{Look, Trace, Writers};

/// What the page shows.
#[derive(Template)]
#[template(path = "rooms/entry.html")]
pub struct EntryPage {
    /// The frame.
    pub page: Page,
    /// What it says, and when.
    pub lead: Words,
    /// Why nothing was blanked.
    pub errors: Option<FormErrors>,
    /// Which room.
    pub room: Uuid,
    /// Which entry.
    pub entry: Uuid,
    /// Who wrote it, on what.
    pub who: String,
    /// When the server took it.
    pub received: String,
    /// That it no longer counts.
    pub standing: Option<&'static str>,
    /// The words that can be blanked, each with what it is.
    pub words: Vec<(&'static str, String)>,
    /// Whether words were blanked.
    pub is_blanked: bool,
}

/// Puts it together.
pub fn page(
    page: Page,
    look: &Look,
    trace: &Trace,
    writers: &Writers,
    beside: Beside,
    problem: Option<&Problem>,
) -> EntryPage {
    let states = look.states();
    let names = Names { states: &states, beside };
    let teller = Teller { names, wall: look.wall, about: None, by_tank: false };
    let body = trace.body.as_deref();
    let personal = body.map(|body| body.personal()).unwrap_or_default();
    EntryPage {
        page,
        lead: body.map_or_else(Words::default, |body| teller.tell(body).capital()),
        errors: problem.map(|problem| FormErrors::of("Not blanked", problem)),
        room: look.id.0,
        entry: trace.op.0,
        who: writers.of(trace),
        received: format!(
            "of {}, received {}",
            look.wall.moment(trace.at.seconds()),
            look.wall.moment(trace.received.0.div_euclid(1000))
        ),
        standing: match trace.standing {
            Standing::Live | Standing::Outdone => None,
            Standing::Withdrawn => {
                Some("It was taken back and does not count. Its words are kept all the same.")
            }
            Standing::Inert => Some("It does not count: it rests on an entry that was taken back."),
        },
        words: personal.into_iter().map(|(field, text)| (called(field), text)).collect(),
        is_blanked: body.is_some_and(|body| body.to_value().to_string().contains(BLANKED)),
    }
}

/// What a personal field is called.
fn called(field: &str) -> &'static str {
    match field {
        "amount" => "Amount",
        "food" => "Food",
        "job" => "What was done",
        "reason" => "Reason",
        "remark" => "Remark",
        "sign" => "Sign",
        "source" => "From whom",
        "why" => "Why",
        _ => "Note",
    }
}
