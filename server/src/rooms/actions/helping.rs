//! What a helper typed, as an entry. It happened now; what a link may write is the domain's to say.

use serde::Deserialize;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::choose::{NotChosen, taken};
use tarn_domain::rooms::ops::{FoodGiven, JobDone, LookDone, SignSeen, StockLost, WaterRead};
use tarn_domain::rooms::water::reading;
use tarn_domain::rooms::words::{Cause, Measure};
use tarn_domain::rooms::{Came, Node, Typed as Numbers};
use tarn_domain::state::RoomStates;
use tarn_domain::streams::{StockId, SystemId, TankId};
use uuid::Uuid;

use super::entry::Faults;
use crate::platform::Result;
use crate::platform::errors::{INVALID, Problem};

/// The most letters of a remark.
const MOST_LETTERS: usize = 1_000;

/// What a form on a helper's page sends. Fields of the other forms are empty.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub struct Helped {
    /// The entry's id, made with the page: pressing twice is once.
    pub id: Uuid,
    /// Which form: `fed`, `looked`, `job`, `water`, `sign` or `lost`.
    pub what: String,
    /// What was fed.
    pub fed_food: String,
    /// How much.
    pub fed_amount: String,
    /// What was noticed.
    pub looked_remark: String,
    /// Which work was done.
    pub job_what: String,
    /// Where; empty: in the room.
    pub job_place: String,
    /// Of which water.
    pub water_place: String,
    /// What was measured.
    pub water_what: String,
    /// The number, with its unit.
    pub water_value: String,
    /// With which stock.
    pub sign_stock: String,
    /// What was seen.
    pub sign_words: String,
    /// Of which stock.
    pub lost_stock: String,
    /// How many.
    pub lost_numbers: String,
    /// To what.
    pub lost_cause: String,
    /// In the helper's words.
    pub lost_reason: String,
}

/// Reads the form as an entry; `tanks` are those that were ticked.
///
/// # Errors
/// `invalid`, with what is wrong field by field.
pub fn read(typed: &Helped, tanks: &[String], states: &RoomStates<'_>) -> Result<Body> {
    let mut faults = Faults::default();
    let read = match typed.what.as_str() {
        "fed" => fed(typed, tanks, states, &mut faults),
        "looked" => looked(typed, tanks, states, &mut faults),
        "job" => job(typed, states, &mut faults),
        "water" => water(typed, states, &mut faults),
        "sign" => sign(typed, states, &mut faults),
        "lost" => lost(typed, states, &mut faults),
        _ => return Err(Problem::new(&INVALID).detail("There is no such form.")),
    };
    match read {
        Some(body) if faults.is_empty() => Ok(body),
        _ => Err(faults.problem()),
    }
}

fn fed(typed: &Helped, tanks: &[String], states: &RoomStates<'_>, faults: &mut Faults) -> Option<Body> {
    let tanks = faults.note("/fed_tank", ticked(tanks, states));
    let food = faults.note("/fed_food", needed(&typed.fed_food, "Say what was fed."));
    let amount = faults.note("/fed_amount", short(&typed.fed_amount));
    Some(Body::FoodGiven(FoodGiven { tanks: tanks?, stocks: Vec::new(), food: food?, amount: amount? }))
}

fn looked(typed: &Helped, tanks: &[String], states: &RoomStates<'_>, faults: &mut Faults) -> Option<Body> {
    let tanks = faults.note("/looked_tank", ticked(tanks, states));
    let remark = faults.note("/looked_remark", short(&typed.looked_remark));
    Some(Body::LookDone(LookDone { tanks: tanks?, remark: remark? }))
}

fn job(typed: &Helped, states: &RoomStates<'_>, faults: &mut Faults) -> Option<Body> {
    let job = faults.note("/job_what", needed(&typed.job_what, "Say what was done."));
    let place = match typed.job_place.as_str() {
        "" => Some((None, None)),
        typed => faults.note("/job_place", place(typed, states)),
    };
    let (system, tank) = place?;
    Some(Body::JobDone(JobDone { system, tank, job: job?, volume_ml: None, percent: None }))
}

fn water(typed: &Helped, states: &RoomStates<'_>, faults: &mut Faults) -> Option<Body> {
    let place = faults.note("/water_place", place(&typed.water_place, states));
    let what = typed.water_what.parse::<Measure>().map_err(|_| "Choose what was measured.".to_owned());
    let what = faults.note("/water_what", what);
    let value = what.map(|what| reading(what, &typed.water_value).map_err(|no| format!("{no}.")));
    let value = value.and_then(|value| faults.note("/water_value", value));
    let (system, tank) = place?;
    Some(Body::WaterRead(WaterRead { system, tank, values: vec![value?] }))
}

fn sign(typed: &Helped, states: &RoomStates<'_>, faults: &mut Faults) -> Option<Body> {
    let stock = faults.note("/sign_stock", stock(&typed.sign_stock, states));
    let sign = faults.note("/sign_words", needed(&typed.sign_words, "Say what was seen."));
    Some(Body::SignSeen(SignSeen { stock: Some(stock?), tank: None, sign: sign?, last_seen: None }))
}

fn lost(typed: &Helped, states: &RoomStates<'_>, faults: &mut Faults) -> Option<Body> {
    let id = faults.note("/lost_stock", stock(&typed.lost_stock, states));
    let how_many = "Say how many, as in 1, 2 m 3 f or about 5.";
    let numbers = typed.lost_numbers.parse::<Numbers>().map_err(|_| how_many.to_owned());
    let numbers = faults.note("/lost_numbers", numbers);
    let cause = typed.lost_cause.parse::<Cause>().map_err(|_| "Choose what they were lost to.".to_owned());
    let cause = faults.note("/lost_cause", cause);
    let reason = faults.note("/lost_reason", short(&typed.lost_reason));
    let state = states.stocks.get(&id?)?;
    let own = match (&state.founders, &state.came) {
        (Some(founders), _) => Node::Of(founders.node),
        (None, Some(Came::Born { brood })) => Node::Of(*brood),
        _ => Node::Unassigned,
    };
    let rows = taken(&state.numbers, &numbers?, None, own).map_err(|no| match no {
        NotChosen::Which(_) => "Fish of several broods are in this stock: write only how many.".to_owned(),
        NotChosen::BySex => {
            "This stock is recorded by sex: write males and females, as in 2 m 3 f.".to_owned()
        }
    });
    let rows = faults.note("/lost_numbers", rows)?;
    Some(Body::StockLost(StockLost { stock: id?, rows, cause: cause?, reason: reason?, incident: None }))
}

type Said<T> = std::result::Result<T, String>;

fn ticked(tanks: &[String], states: &RoomStates<'_>) -> Said<Vec<TankId>> {
    let known = |text: &String| text.parse().ok().map(TankId).filter(|id| states.tanks.contains_key(id));
    let tanks: Option<Vec<TankId>> = tanks.iter().map(known).collect();
    tanks.filter(|tanks| !tanks.is_empty()).ok_or_else(|| "Tick at least one tank.".into())
}

fn stock(typed: &str, states: &RoomStates<'_>) -> Said<StockId> {
    let id = typed.parse().ok().map(StockId);
    id.filter(|id| states.stocks.contains_key(id)).ok_or_else(|| "Choose which fish.".into())
}

/// A water system, or a tank.
fn place(typed: &str, states: &RoomStates<'_>) -> Said<(Option<SystemId>, Option<TankId>)> {
    let id: Option<Uuid> = typed.parse().ok();
    let system = id.map(SystemId).filter(|id| states.systems.contains_key(id));
    let tank = id.map(TankId).filter(|id| states.tanks.contains_key(id));
    if system.is_none() && tank.is_none() { Err("Choose where.".into()) } else { Ok((system, tank)) }
}

fn short(text: &str) -> Said<Option<String>> {
    let text = text.trim();
    if text.chars().count() > MOST_LETTERS {
        return Err("At most 1,000 letters.".into());
    }
    Ok((!text.is_empty()).then(|| text.to_owned()))
}

fn needed(text: &str, ask: &str) -> Said<String> {
    short(text)?.ok_or_else(|| ask.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_answer_that_is_missing_is_named() {
        let states = RoomStates::default();
        for (what, wanted) in [
            ("fed", &["/fed_tank", "/fed_food"][..]),
            ("looked", &["/looked_tank"]),
            ("job", &["/job_what"]),
            ("water", &["/water_place", "/water_what"]),
            ("sign", &["/sign_stock", "/sign_words"]),
            ("lost", &["/lost_stock", "/lost_numbers", "/lost_cause"]),
        ] {
            let typed = Helped { what: what.into(), ..Helped::default() };
            let no = read(&typed, &[], &states).expect_err("nothing was said");
            let at: Vec<&str> = no.faults().into_iter().map(|(at, _)| at).collect();
            assert_eq!(at, wanted, "{what}");
        }
    }
}
