//! Queries over `streams` and `stream_lines`: heads, epochs, chains.

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::SelectStatement;
use sea_orm::{
    ActiveModelTrait, ColumnTrait, ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder,
    QuerySelect,
};
use tarn_domain::streams::{Chain, Clock, EpochId, Received, StreamId};

use super::ops::between;
use crate::entities::{ops, stream_lines, streams};
use crate::platform::{Result, dialect, errors::Problem};

/// How many are asked for in one query.
const AT_ONCE: usize = 1_000;

/// A stream's row, typed.
#[derive(Debug, Clone)]
pub struct Row {
    /// Which.
    pub id: StreamId,
    /// `room`, `hall` or `library`.
    pub kind: String,
    /// The present epoch.
    pub epoch: EpochId,
    /// The greatest seq.
    pub head: u64,
    /// The chain at head.
    pub chain: Chain,
    /// The greatest accepted clock.
    pub greatest: Clock,
    /// When the last push was received.
    pub last_received: Received,
    /// The version of the fold that made the projections.
    pub fold_version: i32,
}

fn typed(row: streams::Model) -> Result<Row> {
    let broken = || Problem::failed("reading a stream", "its chain or clock is no chain or clock");
    Ok(Row {
        id: StreamId(row.id),
        kind: row.kind,
        epoch: EpochId(row.epoch),
        head: row.head.unsigned_abs(),
        chain: Chain::of_bytes(&row.chain).ok_or_else(broken)?,
        greatest: row.greatest_clock.parse().map_err(|_| broken())?,
        last_received: Received(row.last_received),
        fold_version: row.fold_version,
    })
}

/// The stream, if there is one.
pub async fn stream(conn: &impl ConnectionTrait, id: StreamId) -> Result<Option<Row>> {
    streams::Entity::find_by_id(id.0).one(conn).await?.map(typed).transpose()
}

/// The same, locked until the transaction ends.
pub async fn stream_locked(conn: &impl ConnectionTrait, id: StreamId) -> Result<Option<Row>> {
    dialect::lock_rows(streams::Entity::find_by_id(id.0), conn).one(conn).await?.map(typed).transpose()
}

/// Those of the streams whose ids a query gives, by id.
pub async fn streams_in(conn: &impl ConnectionTrait, ids: SelectStatement) -> Result<Vec<Row>> {
    let of_them = streams::Entity::find().filter(streams::Column::Id.in_subquery(ids));
    let rows = of_them.order_by_asc(streams::Column::Id).all(conn).await?;
    rows.into_iter().map(typed).collect()
}

/// These streams, in no order.
pub async fn streams_of(conn: &impl ConnectionTrait, ids: &[StreamId]) -> Result<Vec<Row>> {
    let mut all = Vec::with_capacity(ids.len());
    for some in ids.chunks(AT_ONCE) {
        let of_them = streams::Column::Id.is_in(some.iter().map(|id| id.0));
        let rows = streams::Entity::find().filter(of_them).all(conn).await?;
        all.extend(rows.into_iter().map(typed).collect::<Result<Vec<_>>>()?);
    }
    Ok(all)
}

/// Every stream, by id.
pub async fn streams_all(conn: &impl ConnectionTrait) -> Result<Vec<Row>> {
    let rows = streams::Entity::find().order_by_asc(streams::Column::Id).all(conn).await?;
    rows.into_iter().map(typed).collect()
}

/// How many streams an older fold than this one made.
pub async fn count_older(conn: &impl ConnectionTrait, version: i32) -> Result<u64> {
    Ok(streams::Entity::find().filter(streams::Column::FoldVersion.lt(version)).count(conn).await?)
}

/// The next stream, by id, that an older fold than this one made.
pub async fn next_older(
    conn: &impl ConnectionTrait,
    version: i32,
    after: Option<StreamId>,
) -> Result<Option<StreamId>> {
    let older = streams::Entity::find().filter(streams::Column::FoldVersion.lt(version));
    let rest = match after {
        Some(StreamId(id)) => older.filter(streams::Column::Id.gt(id)),
        None => older,
    };
    let next: Option<uuid::Uuid> = rest
        .select_only()
        .column(streams::Column::Id)
        .order_by_asc(streams::Column::Id)
        .into_tuple()
        .one(conn)
        .await?;
    Ok(next.map(StreamId))
}

/// Makes an empty stream.
pub async fn new_stream(
    conn: &impl ConnectionTrait,
    id: StreamId,
    kind: &str,
    epoch: EpochId,
    fold_version: i32,
    now: i64,
) -> Result<()> {
    let row = streams::ActiveModel {
        id: Set(id.0),
        kind: Set(kind.to_owned()),
        epoch: Set(epoch.0),
        head: Set(0),
        chain: Set(Chain::EMPTY.0.to_vec()),
        greatest_clock: Set(Clock::START.to_string()),
        last_received: Set(0),
        fold_version: Set(fold_version),
        made_ms: Set(now),
    };
    row.insert(conn).await?;
    Ok(())
}

/// Writes what an append changed.
pub async fn set_head(conn: &impl ConnectionTrait, row: &Row) -> Result<()> {
    let changed = streams::ActiveModel {
        head: Set(row.head.cast_signed()),
        chain: Set(row.chain.0.to_vec()),
        greatest_clock: Set(row.greatest.to_string()),
        last_received: Set(row.last_received.0),
        fold_version: Set(row.fold_version),
        ..Default::default()
    };
    streams::Entity::update_many().set(changed).filter(streams::Column::Id.eq(row.id.0)).exec(conn).await?;
    Ok(())
}

/// The (epoch, last seq) pairs that a stream continues, oldest first.
pub async fn lines(conn: &impl ConnectionTrait, id: StreamId) -> Result<Vec<(EpochId, u64)>> {
    let rows = stream_lines::Entity::find()
        .filter(stream_lines::Column::Stream.eq(id.0))
        .order_by_asc(stream_lines::Column::Position)
        .all(conn)
        .await?;
    Ok(rows.into_iter().map(|row| (EpochId(row.epoch), row.last_seq.unsigned_abs())).collect())
}

/// The chain after so many ops: from the last push that ended at or before it, hashed onward.
pub async fn chain_at(conn: &impl ConnectionTrait, id: StreamId, seq: u64) -> Result<Chain> {
    let mark = ops::Entity::find()
        .filter(ops::Column::Stream.eq(id.0))
        .filter(ops::Column::Seq.lte(seq.cast_signed()))
        .filter(ops::Column::Chain.is_not_null())
        .order_by_desc(ops::Column::Seq)
        .one(conn)
        .await?;
    let (from, mut chain) = match mark {
        Some(row) => {
            (row.seq.unsigned_abs(), row.chain.as_deref().and_then(Chain::of_bytes).unwrap_or(Chain::EMPTY))
        }
        None => (0, Chain::EMPTY),
    };
    for op in between(conn, id, from, seq, u64::MAX >> 1).await? {
        chain = chain.then(op.op_text(), op.accepted);
    }
    Ok(chain)
}
