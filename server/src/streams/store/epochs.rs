//! Queries that begin a new epoch.

use sea_orm::ActiveValue::Set;
use sea_orm::{ActiveModelTrait, ConnectionTrait, EntityTrait};
use tarn_domain::streams::EpochId;

use super::history::{Row, lines};
use crate::entities::{stream_lines, streams};
use crate::platform::Result;

/// The stream continues its present epoch up to its head, in a new one.
pub async fn begin_epoch(conn: &impl ConnectionTrait, row: &Row, epoch: EpochId) -> Result<()> {
    let position = lines(conn, row.id).await?.len();
    let line = stream_lines::ActiveModel {
        stream: Set(row.id.0),
        position: Set(i32::try_from(position).unwrap_or(i32::MAX)),
        epoch: Set(row.epoch.0),
        last_seq: Set(row.head.cast_signed()),
    };
    stream_lines::Entity::insert(line).exec_without_returning(conn).await?;
    streams::ActiveModel { id: Set(row.id.0), epoch: Set(epoch.0), ..Default::default() }
        .update(conn)
        .await?;
    Ok(())
}
