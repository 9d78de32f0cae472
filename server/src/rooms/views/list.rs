//! The list of rooms.

use super::room::of_units;
use super::{Beside, RoomLine};
use crate::rooms::actions::read::Look;

/// One room of the list: how it stands, and who keeps it beside the reader.
pub fn lines(look: &Look, beside: Beside, others: &[String]) -> RoomLine {
    let states = look.states();
    let units = (beside.units)(&states, &look.quarantine, look.id, look.wall);
    let (tanks, stocks) =
        (states.tanks.len(), states.stocks.values().filter(|stock| stock.total() > 0).count());
    let many = |n: usize, one: &str, more: &str| match n {
        0 => format!("no {more}"),
        1 => format!("one {one}"),
        n => format!("{n} {more}"),
    };
    let found: usize = look.things().map(|(_, state)| state.findings().len()).sum();
    let found = found + look.quarantine.reading.unemptied.len();
    let right = match found {
        0 => String::new(),
        1 => " One thing to put right.".to_owned(),
        n => format!(" {n} things to put right."),
    };
    let size = format!("{}, {}.", many(tanks, "tank", "tanks"), many(stocks, "stock", "stocks"));
    RoomLine {
        name: look.room.name.clone(),
        href: format!("/rooms/{}", look.id),
        sentence: format!("{} {}{right}", super::last::first_upper(&size), of_units(&units)),
        keepers: match others {
            [] => "You keep it.".into(),
            others => format!("You keep it with {}.", others.join(" and ")),
        },
    }
}
