//! Warning at once when home fish begin to share water with a unit. Nothing is refused: the fish come first.

use std::collections::BTreeSet;

use tarn_domain::quarantine::{Cause, RoomFacts, Unit, units};
use tarn_domain::state::view;
use tarn_domain::streams::{EntityKind, StockId};

use crate::failure::Outcome;
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// The units of a room now.
pub fn units_now(tarn: &Tarn, room: &StreamRow) -> Outcome<Vec<Unit>> {
    if !tarn.store.has_introduced(room)? {
        return Ok(Vec::new());
    }
    let states = tarn.store.states(room, &[EntityKind::Room, EntityKind::Tank, EntityKind::Stock])?;
    let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
    let empty = RoomFacts::default();
    Ok(units(&laid_out.for_quarantine(&empty), tarn.now()?))
}

/// Every stock that is in quarantine now.
pub fn held(tarn: &Tarn, room: &StreamRow) -> Outcome<BTreeSet<StockId>> {
    Ok(units_now(tarn, room)?.iter().flat_map(|u| u.members.iter().map(|m| m.stock)).collect())
}

/// Tells which home fish are in quarantine now and were not before.
pub fn tell_breach(tarn: &Tarn, room: &StreamRow, before: &BTreeSet<StockId>) -> Outcome {
    let units = units_now(tarn, room)?;
    let breached = |unit: &Unit| -> Vec<StockId> {
        let new = unit.members.iter().filter(|m| m.cause == Cause::Breach && !before.contains(&m.stock));
        new.map(|m| m.stock).collect()
    };
    for unit in &units {
        let new = breached(unit);
        if new.is_empty() {
            continue;
        }
        let names = tarn.names(room, &[EntityKind::Stock])?;
        let all: Vec<String> = new.iter().map(|s| names.of(*s)).collect();
        let until = unit.due.map(|at| format!(", until {} at the earliest", tarn.zone(room).show_day(at)));
        tarn.out.say(&format!(
            "Warning: {} now share water with fish in quarantine and are held with them for {} days{}.",
            all.join(", "),
            unit.days.0,
            until.unwrap_or_default()
        ));
        tarn.out.say("  If that was not meant, part the water at once; nothing of it may leave until a steward has cleared it.");
    }
    Ok(())
}
