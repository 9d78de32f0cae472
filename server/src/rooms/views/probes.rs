//! The probes of a room, as its keepers read them; and the token of the one that was just made.

use askama::Template;

use super::Beside;
use super::names::{Names, natural};
use crate::entities::room_probes;
use crate::platform::errors::Problem;
use crate::platform::html::{Field, FormErrors, Page};
use crate::platform::parts::Choice;
use crate::rooms::actions::read::Look;
use tarn_domain::streams::{SystemId, TankId};

/// `/rooms/{room}/probes`.
#[derive(Template)]
#[template(path = "rooms/probes.html")]
pub struct ProbesPage {
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
    /// The page of its waters.
    pub water: String,
    /// The probes, the newest first.
    pub probes: Vec<ProbeLine>,
    /// What it is called.
    pub name: Field,
    /// In which water.
    pub waters: Choice,
    /// For how many days.
    pub days: Field,
}

/// One probe.
pub struct ProbeLine {
    /// What the keeper calls it.
    pub name: String,
    /// Where it hangs, and when it was last heard.
    pub sentence: String,
    /// Until when its token is good, or since when it is over.
    pub until: String,
    /// Its id, while it is good.
    pub ends: Option<String>,
}

/// The token of a probe, shown this once.
#[derive(Template)]
#[template(path = "rooms/probe_added.html")]
pub struct ProbeAdded {
    /// Layout.
    pub page: Page,
    /// What it is called.
    pub name: String,
    /// Until when.
    pub until: String,
    /// The token.
    pub token: String,
    /// Where it sends to.
    pub address: String,
    /// Back to the list.
    pub href: String,
}

/// One probe.
pub fn probe(look: &Look, row: &room_probes::Model, good: bool, beside: Beside) -> ProbeLine {
    let states = look.states();
    let names = Names { states: &states, beside };
    let place = match (row.system, row.tank) {
        (Some(system), _) => names.system(SystemId(system)),
        (None, Some(tank)) => names.tank(TankId(tank)),
        (None, None) => "no water".into(),
    };
    let moment = |ms: i64| look.wall.moment(ms.div_euclid(1000));
    ProbeLine {
        name: row.name.clone(),
        sentence: match row.heard_ms {
            Some(heard) => format!("In {place}. Last heard {}.", moment(heard)),
            None => format!("In {place}. Not heard yet."),
        },
        until: match (good, row.ended_ms) {
            (true, _) => format!("Its token is good until {}.", moment(row.until_ms)),
            (false, Some(ended)) => format!("Ended {}.", moment(ended)),
            (false, None) => format!("Over since {}.", moment(row.until_ms)),
        },
        ends: good.then(|| row.id.to_string()),
    }
}

/// The waters of a room: systems, then tanks.
pub fn water_choice(look: &Look, beside: Beside, chosen: &str, problem: Option<&Problem>) -> Choice {
    let states = look.states();
    let names = Names { states: &states, beside };
    let mut systems: Vec<(String, String)> =
        states.systems.keys().map(|id| (id.to_string(), names.system(*id))).collect();
    let mut tanks: Vec<(String, String)> =
        states.tanks.keys().map(|id| (id.to_string(), names.tank(*id))).collect();
    systems.sort_by_cached_key(|(_, name)| natural(name));
    tanks.sort_by_cached_key(|(_, name)| natural(name));
    systems.extend(tanks);
    let faults = problem.map(Problem::faults).unwrap_or_default();
    let fault = faults.into_iter().find(|(at, _)| *at == "/water").map(|(_, why)| why.to_owned());
    Choice::of("water", "In which water it hangs", systems).typed(chosen, fault)
}
