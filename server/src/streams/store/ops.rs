//! Queries over `ops`.

use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use tarn_domain::streams::{Chain, OpId, StreamId};
use uuid::Uuid;

use super::Stored;
use crate::entities::ops;
use crate::platform::rows;
use crate::platform::{Result, dialect, dialect::Common};

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

/// One op by its number.
pub async fn at(conn: &impl ConnectionTrait, stream: StreamId, seq: u64) -> Result<Option<Stored>> {
    let row = ops::Entity::find_by_id((stream.0, seq.cast_signed())).one(conn).await?;
    Ok(row.map(Stored::from))
}

/// One op by its id.
pub async fn by_id(conn: &impl ConnectionTrait, stream: StreamId, id: OpId) -> Result<Option<Stored>> {
    let found = ops::Entity::find().filter(ops::Column::Stream.eq(stream.0)).filter(ops::Column::Id.eq(id.0));
    Ok(found.one(conn).await?.map(Stored::from))
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

/// Writes accepted ops; `chain` is the stream's after the last of them, if it is kept there.
pub async fn insert(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    accepted: Vec<(OpId, Uuid, Stored)>,
    chain: Option<Chain>,
) -> Result<()> {
    let chain = chain.map(|chain| chain.0.to_vec());
    if let Some((_, device, first)) = together(&accepted) {
        let common = Common {
            stream: stream.0,
            first: first.seq.cast_signed(),
            device: *device,
            by: first.accepted.by.id(),
            received: first.accepted.received.0,
            decision: first.accepted.decision,
            chain,
        };
        let own = accepted.into_iter().map(|(id, _, op)| (id.0, op.text)).collect();
        conn.execute_raw(dialect::ops_together(conn.get_database_backend(), common, own)).await?;
        return Ok(());
    }
    let last = accepted.len().saturating_sub(1);
    let rows: Vec<ops::Model> = accepted
        .into_iter()
        .enumerate()
        .map(|(i, (id, device, op))| ops::Model {
            stream: stream.0,
            seq: op.seq.cast_signed(),
            id: id.0,
            device,
            body: op.text,
            by_account: op.accepted.by.id(),
            received: op.accepted.received.0,
            decision: op.accepted.decision,
            chain: chain.clone().filter(|_| i == last),
            was: op.was.map(|was| was.0.to_vec()),
        })
        .collect();
    rows::insert::<ops::Entity>(conn, &rows, &[]).await
}

/// The first of ops of one device that were received together, one after the other, as almost all are: of each its id
/// and its text are all that is its own.
fn together(accepted: &[(OpId, Uuid, Stored)]) -> Option<&(OpId, Uuid, Stored)> {
    let first = accepted.first()?;
    let same = accepted.iter().zip(first.2.seq..).all(|((_, device, op), seq)| {
        op.was.is_none() && (op.seq, *device, op.accepted) == (seq, first.1, first.2.accepted)
    });
    same.then_some(first)
}
