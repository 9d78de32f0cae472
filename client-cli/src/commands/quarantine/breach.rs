//! Warning at once when home fish begin to share water with a unit. Nothing is refused: the fish come first.

use std::cell::RefCell;
use std::collections::BTreeSet;

use tarn_domain::quarantine::{Cause, Evidence, RoomFacts, SignOffs, Unit, read};
use tarn_domain::state::view;
use tarn_domain::streams::{EntityKind, Received, StockId, TankId};

use crate::failure::Outcome;
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// The units of a room now, by the clock alone: quick enough for every move.
pub fn units_now(tarn: &Tarn, room: &StreamRow) -> Outcome<Vec<Unit>> {
    if !tarn.store.has_introduced(room)? {
        return Ok(Vec::new());
    }
    let kinds =
        [EntityKind::Room, EntityKind::System, EntityKind::Tank, EntityKind::Stock, EntityKind::Treatment];
    let states = tarn.store.states(room, &kinds)?;
    let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
    let (empty, now) = (RoomFacts::default(), tarn.now()?);
    let evidence = tarn.store.evidence(room)?;
    let evidence: Vec<&Evidence> = evidence.iter().collect();
    let failed = RefCell::new(None);
    let received = |op| match tarn.store.received(room, op) {
        Ok(received) => received.unwrap_or(Received(now.ms())),
        Err(error) => {
            failed.replace(Some(error));
            Received(now.ms())
        }
    };
    let none = BTreeSet::new();
    let reading = read(&laid_out.for_quarantine(&empty, &evidence, &received, SignOffs::Known(&none)), now);
    match failed.into_inner() {
        Some(error) => Err(error.into()),
        None => Ok(reading.units),
    }
}

/// Every stock that is in quarantine now.
pub fn held(tarn: &Tarn, room: &StreamRow) -> Outcome<BTreeSet<StockId>> {
    Ok(units_now(tarn, room)?.iter().flat_map(|u| u.members.iter().map(|m| m.stock)).collect())
}

/// Home fish whose water fish in this tank would share.
pub fn at_home_with(
    tarn: &Tarn,
    room: &StreamRow,
    tank: TankId,
    held: &BTreeSet<StockId>,
) -> Outcome<Vec<StockId>> {
    let states = tarn.store.states(room, &[EntityKind::System, EntityKind::Tank, EntityKind::Stock])?;
    let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
    let (host, system) = (laid_out.host_of(tank, None), laid_out.system_of(tank, None));
    let systems = system.map(|system| laid_out.joined_to(system)).unwrap_or_default();
    let shares = |other: TankId| {
        let same = laid_out.system_of(other, None).is_some_and(|system| systems.contains(&system));
        same || laid_out.host_of(other, None) == host
    };
    let at_home = laid_out.stocks.iter().filter(|(id, stock)| {
        !held.contains(id) && stock.total() > 0 && stock.place().flatten().is_some_and(shares)
    });
    Ok(at_home.map(|(id, _)| *id).collect())
}

/// Tells which home fish are in quarantine now and were not before.
pub fn tell_breach(tarn: &Tarn, room: &StreamRow, before: &BTreeSet<StockId>) -> Outcome {
    let units = units_now(tarn, room)?;
    let breached = |unit: &Unit| -> Vec<StockId> {
        let new = unit
            .members
            .iter()
            .filter(|m| [Cause::Breach, Cause::Companion].contains(&m.cause) && !before.contains(&m.stock));
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
