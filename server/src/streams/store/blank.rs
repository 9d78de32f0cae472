//! The one change that is ever made to an op: words in it are blanked.

use sea_orm::ActiveValue::Set;
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter};
use tarn_domain::streams::{OpDigest, StreamId};

use crate::entities::ops;
use crate::platform::{Result, dialect};

/// Keeps this text in the place of another, and the digest of what it was.
pub async fn blank(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    seq: u64,
    text: String,
    was: OpDigest,
) -> Result<()> {
    dialect::overwrite_what_is_replaced(conn, true).await?;
    let changed = ops::ActiveModel { body: Set(text), was: Set(Some(was.0.to_vec())), ..Default::default() };
    ops::Entity::update_many()
        .set(changed)
        .filter(ops::Column::Stream.eq(stream.0))
        .filter(ops::Column::Seq.eq(seq.cast_signed()))
        .exec(conn)
        .await?;
    dialect::overwrite_what_is_replaced(conn, false).await?;
    Ok(())
}
