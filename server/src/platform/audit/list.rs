//! Reading what was done, for those whose club it is.

use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

use crate::entities::audit_facts::{Column, Entity, Model};
use crate::platform::errors::Result;

/// What was done in a club before the fact of this id, the newest first.
pub async fn of_club(
    conn: &impl ConnectionTrait,
    club: Uuid,
    before: Option<i64>,
    most: u64,
) -> Result<Vec<Model>> {
    let mut query = Entity::find().filter(Column::Club.eq(club));
    if let Some(id) = before {
        query = query.filter(Column::Id.lt(id));
    }
    Ok(query.order_by_desc(Column::Id).limit(most).all(conn).await?)
}
