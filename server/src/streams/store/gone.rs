//! Queries over streams that were removed.

use std::collections::BTreeSet;

use sea_orm::ActiveValue::Set;
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter};
use tarn_domain::streams::{AccountId, StreamId};

use crate::entities::{gone_streams, ops, stream_lines, streams};
use crate::platform::Result;

/// Takes a stream out, with everything that was written into it, and remembers who is to be told.
pub async fn remove(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    writers: BTreeSet<AccountId>,
    now: i64,
) -> Result<()> {
    ops::Entity::delete_many().filter(ops::Column::Stream.eq(stream.0)).exec(conn).await?;
    stream_lines::Entity::delete_many().filter(stream_lines::Column::Stream.eq(stream.0)).exec(conn).await?;
    // its devices go with it
    streams::Entity::delete_by_id(stream.0).exec(conn).await?;
    let rows = writers.into_iter().map(|account| gone_streams::ActiveModel {
        stream: Set(stream.0),
        account: Set(account.0),
        gone_ms: Set(now),
    });
    gone_streams::Entity::insert_many(rows).exec_without_returning(conn).await?;
    Ok(())
}

/// Whether a stream of this id was removed.
pub async fn is_gone(conn: &impl ConnectionTrait, stream: StreamId) -> Result<bool> {
    let rows = gone_streams::Entity::find().filter(gone_streams::Column::Stream.eq(stream.0));
    Ok(rows.count(conn).await? > 0)
}

/// Whether a stream was removed into which this account wrote.
pub async fn is_gone_for(conn: &impl ConnectionTrait, stream: StreamId, account: AccountId) -> Result<bool> {
    Ok(gone_streams::Entity::find_by_id((stream.0, account.0)).one(conn).await?.is_some())
}
