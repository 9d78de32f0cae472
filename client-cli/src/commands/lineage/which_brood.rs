//! The brood that is meant: one that was found in this room, since only its home room changes what is said of it.

use tarn_domain::lineage::BroodState;
use tarn_domain::state::EntityState;
use tarn_domain::streams::{Entity, EntityKind};

use crate::failure::{Failure, Outcome};
use crate::find::find;
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// A brood of this room, by its code or id.
pub fn own(tarn: &Tarn, room: &StreamRow, typed: &str) -> Outcome<(Entity, BroodState)> {
    let entity = find("brood", typed, &tarn.store.named(room, EntityKind::Brood)?, |_| false)?;
    match tarn.store.state(room, entity)? {
        Some(EntityState::Brood(brood)) if brood.made.is_some() => Ok((entity, *brood)),
        _ => Err(Failure::refused("the brood was not found in this room")
            .hint("Only its home room corrects or renames a brood; ask its breeder.")),
    }
}
