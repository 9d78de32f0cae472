//! Queries over `ops`.

use sea_orm::ActiveValue::Set;
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use tarn_domain::streams::{Chain, OpId, StreamId};

use super::Stored;
use crate::entities::ops;
use crate::platform::{Result, dialect};

/// Columns of a row, for the bound on one insert.
const COLUMNS: usize = 9;
/// How many are asked for in one query.
const AT_ONCE: usize = 1_000;

/// The ops after one number, up to and with another, at most `limit`.
pub async fn between(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    after: u64,
    to: u64,
    limit: u64,
) -> Result<Vec<Stored>> {
    let rows = ops::Entity::find()
        .filter(ops::Column::Stream.eq(stream.0))
        .filter(ops::Column::Seq.gt(after.cast_signed()))
        .filter(ops::Column::Seq.lte(to.cast_signed()))
        .order_by_asc(ops::Column::Seq)
        .limit(limit)
        .all(conn)
        .await?;
    Ok(rows.into_iter().map(Stored::from).collect())
}

/// One op by its id.
pub async fn by_id(conn: &impl ConnectionTrait, stream: StreamId, op: OpId) -> Result<Option<Stored>> {
    let row = ops::Entity::find()
        .filter(ops::Column::Stream.eq(stream.0))
        .filter(ops::Column::Id.eq(op.0))
        .one(conn)
        .await?;
    Ok(row.map(Stored::from))
}

/// The ops of these numbers, in no order.
pub async fn numbered(conn: &impl ConnectionTrait, stream: StreamId, seqs: &[u64]) -> Result<Vec<Stored>> {
    let mut all = Vec::with_capacity(seqs.len());
    for some in seqs.chunks(AT_ONCE) {
        let rows = ops::Entity::find()
            .filter(ops::Column::Stream.eq(stream.0))
            .filter(ops::Column::Seq.is_in(some.iter().map(|seq| seq.cast_signed())))
            .all(conn)
            .await?;
        all.extend(rows.into_iter().map(Stored::from));
    }
    Ok(all)
}

/// Writes accepted ops; `chain` is the stream's after the last of them.
pub async fn insert(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    accepted: Vec<(OpId, uuid::Uuid, Stored)>,
    chain: Chain,
) -> Result<()> {
    let last = accepted.len().saturating_sub(1);
    let mut rows: Vec<ops::ActiveModel> = accepted
        .into_iter()
        .enumerate()
        .map(|(i, (id, device, op))| ops::ActiveModel {
            stream: Set(stream.0),
            seq: Set(op.seq.cast_signed()),
            id: Set(id.0),
            device: Set(device),
            body: Set(op.text),
            by_account: Set(op.accepted.by.0),
            received: Set(op.accepted.received.0),
            decision: Set(op.accepted.decision),
            chain: Set((i == last).then(|| chain.0.to_vec())),
        })
        .collect();
    let most = dialect::rows_per_insert(conn.get_database_backend(), COLUMNS);
    while !rows.is_empty() {
        let rest = rows.split_off(rows.len().min(most));
        ops::Entity::insert_many(rows).exec_without_returning(conn).await?;
        rows = rest;
    }
    Ok(())
}
