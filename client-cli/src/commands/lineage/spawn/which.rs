//! Which spawning a step belongs to.

use tarn_domain::lineage::{SpawningState, Stage};
use tarn_domain::state::EntityState;
use tarn_domain::streams::{EntityKind, SpawningId};

use crate::commands::lineage::parents::ParentsRead;
use crate::failure::{Failure, Outcome};
use crate::find::{is_part_of_id, short};
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// The spawnings of the room that any step tells of, the oldest first.
pub fn all(tarn: &Tarn, room: &StreamRow) -> Outcome<Vec<(SpawningId, SpawningState)>> {
    let states = tarn.store.states(room, &[EntityKind::Spawning])?;
    let known = states.into_iter().filter_map(|(thing, state)| match state {
        EntityState::Spawning(s) if s.is_known() => Some((SpawningId(thing.id), *s)),
        _ => None,
    });
    let mut all: Vec<_> = known.collect();
    all.sort_by_key(|(id, s)| (s.steps.first().map(|step| step.at), *id));
    Ok(all)
}

/// The latest spawning of these parents that may go on with a step.
pub fn continued(
    tarn: &Tarn,
    room: &StreamRow,
    parents: &ParentsRead,
    may: impl Fn(&SpawningState) -> bool,
) -> Outcome<Option<SpawningId>> {
    let stocks = parents.stocks();
    let of_them = |s: &SpawningState| !s.spawners().is_disjoint(&stocks);
    let goes_on = |s: &SpawningState| s.failed().is_none() && of_them(s) && may(s);
    Ok(all(tarn, room)?.into_iter().rev().find(|(_, s)| goes_on(s)).map(|(id, _)| id))
}

/// Fish are together and nothing was seen yet.
pub fn is_set_up(spawning: &SpawningState) -> bool {
    spawning.stage() == Some(Stage::SetUp)
}

/// Nothing of it was collected or found yet: what is comes of it.
pub fn is_without_brood(spawning: &SpawningState) -> bool {
    spawning.broods.is_empty() && spawning.stage().is_none_or(|stage| stage < Stage::Swimming)
}

/// The one that is meant among those under way: by its id, by a stock of its parents, eggs or young, or the only one.
pub fn under_way(tarn: &Tarn, room: &StreamRow, typed: Option<&str>) -> Outcome<(SpawningId, SpawningState)> {
    let mut found: Vec<_> = all(tarn, room)?.into_iter().filter(|(_, s)| s.is_under_way()).collect();
    if let Some(typed) = typed {
        let lower = typed.trim().to_lowercase();
        if found.iter().any(|(id, _)| is_part_of_id(&lower, id.0)) {
            found.retain(|(id, _)| is_part_of_id(&lower, id.0));
        } else {
            let (stock, _) = tarn.stock(room, typed)?;
            found.retain(|(_, s)| s.stocks.contains(&stock) || s.spawners().contains(&stock));
        }
    }
    match found.len() {
        0 => {
            Err(Failure::refused("no such spawning is under way")
                .hint("tarn spawn list shows those that are"))
        }
        1 => Ok(found.swap_remove(0)),
        _ => {
            let ids: Vec<String> = found.iter().map(|(id, _)| short(id.0)).collect();
            Err(Failure::wrong_use("several spawnings are under way")
                .hint(format!("Say which: a stock of its fish or eggs, or one of {}.", ids.join(", "))))
        }
    }
}
