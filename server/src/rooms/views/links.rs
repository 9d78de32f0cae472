//! Who helps in a room, as its keepers read it: each link, what was written with it, and the one that was just made.

use askama::Template;
use tarn_domain::streams::{OpId, Standing};

use super::Beside;
use super::entry::Teller;
use super::last::deed;
use super::names::{Names, natural};
use crate::entities::room_links;
use crate::platform::errors::Problem;
use crate::platform::html::{Field, FormErrors, Page};
use crate::platform::parts::{Choice, Deed, EntryRow};
use crate::platform::words::Words;
use crate::rooms::actions::links::tanks_of;
use crate::rooms::actions::read::{Look, Trace, Traces};

/// `/rooms/{room}/helpers`.
#[derive(Template)]
#[template(path = "rooms/helpers.html")]
pub struct HelpersPage {
    /// Layout.
    pub page: Page,
    /// How things stand.
    pub lead: String,
    /// What is wrong with what was typed.
    pub errors: Option<FormErrors>,
    /// The page's own address.
    pub href: String,
    /// The room's page.
    pub room: String,
    /// The links, the newest first.
    pub helpers: Vec<Helper>,
    /// Who is to help.
    pub name: Field,
    /// For how many days.
    pub days: Field,
    /// In which tanks.
    pub tanks: Choice,
}

/// One link.
pub struct Helper {
    /// What the keeper calls them.
    pub name: String,
    /// Until when it is good, or since when it is over.
    pub sentence: String,
    /// Its id, while it is good.
    pub ends: Option<String>,
    /// What was written with it, the newest first.
    pub entries: Vec<Written>,
}

/// One entry that was written with a link.
pub struct Written {
    /// As lists show it.
    pub row: EntryRow,
    /// Takes it back, if that can be done.
    pub take_back: Option<Deed>,
}

/// The address of a link, shown this once.
#[derive(Template)]
#[template(path = "rooms/helper_added.html")]
pub struct HelperAdded {
    /// Layout.
    pub page: Page,
    /// Whose it is.
    pub name: String,
    /// Until when.
    pub until: String,
    /// The address.
    pub address: String,
    /// Back to the list.
    pub href: String,
}

/// So many entries of a link are shown.
const SHOWN: usize = 30;

/// One link, and what was written with it.
pub fn helper(
    look: &Look,
    link: &room_links::Model,
    good: bool,
    entries: impl Iterator<Item = OpId>,
    traces: &Traces,
    beside: Beside,
    mut new: impl FnMut() -> OpId,
) -> Helper {
    let states = look.states();
    let names = Names { states: &states, beside };
    let teller = Teller { names, wall: look.wall, about: None, by_tank: false };
    let back = format!("/rooms/{}/helpers", look.id);
    let written = |trace: &Trace| {
        let taken_back = trace.standing == Standing::Withdrawn;
        let may = !taken_back && !trace.fixed;
        Written {
            row: EntryRow {
                anchor: format!("e-{}", trace.op),
                when: look.wall.brief(trace.at.seconds()),
                what: trace.body.as_deref().map_or_else(Words::default, |body| teller.tell(body).capital()),
                note: taken_back.then(|| "Taken back.".to_owned()),
                who: link.name.clone(),
                taken_back,
                own_page: None,
            },
            take_back: may.then(|| deed(look.id, trace.op, new(), &back, "Take it back")),
        }
    };
    let place = match tanks_of(link) {
        None => "in every tank".to_owned(),
        Some(tanks) => {
            let tanks: Vec<String> = tanks.iter().map(|id| names.tank(*id)).collect();
            format!("in {}", tanks.join(", "))
        }
    };
    let until = |ms: i64| look.wall.moment(ms.div_euclid(1000));
    Helper {
        name: link.name.clone(),
        sentence: match (good, link.ended_ms) {
            (true, _) => format!("Good until {}, {place}.", until(link.until_ms)),
            (false, Some(ended)) => format!("Ended {}.", until(ended)),
            (false, None) => format!("Over since {}.", until(link.until_ms)),
        },
        ends: good.then(|| link.id.to_string()),
        entries: entries.filter_map(|op| traces.get(op)).take(SHOWN).map(written).collect(),
    }
}

/// The tanks of a room, to be ticked.
pub fn tank_boxes(look: &Look, beside: Beside, ticked: &[String], problem: Option<&Problem>) -> Choice {
    let states = look.states();
    let names = Names { states: &states, beside };
    let mut tanks: Vec<(String, String)> =
        states.tanks.keys().map(|id| (id.to_string(), names.tank(*id))).collect();
    tanks.sort_by_cached_key(|(_, name)| natural(name));
    let faults = problem.map(Problem::faults).unwrap_or_default();
    let fault = faults.into_iter().find(|(at, _)| *at == "/tanks").map(|(_, why)| why.to_owned());
    let mut choice = Choice::of("tanks", "In which tanks", tanks).typed("", fault);
    for option in &mut choice.options {
        option.chosen = ticked.contains(&option.value);
    }
    choice.hint("None ticked: in every tank of the room.")
}
