//! Queries over `ops`.

use std::fmt::Write;

use sea_orm::sea_query::ArrayType;
use sea_orm::{
    ColumnTrait, ConnectionTrait, DbBackend, EntityTrait, QueryFilter, QueryOrder, QuerySelect, Statement,
    Value,
};
use tarn_domain::streams::{Acceptance, Chain, OpId, StreamId};

use super::Stored;
use crate::entities::ops;
use crate::platform::rows;
use crate::platform::{Result, dialect};

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

/// Writes accepted ops; `chain` is the stream's after the last of them, if it is kept there.
pub async fn insert(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    accepted: Vec<(OpId, uuid::Uuid, Stored)>,
    chain: Option<Chain>,
) -> Result<()> {
    if conn.get_database_backend() == DbBackend::Postgres {
        return insert_columns(conn, stream, &accepted, chain).await;
    }
    if insert_together(conn, stream, &accepted, chain).await? {
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
            by_account: op.accepted.by.0,
            received: op.accepted.received.0,
            decision: op.accepted.decision,
            chain: chain.filter(|_| i == last).map(|chain| chain.0.to_vec()),
        })
        .collect();
    rows::insert::<ops::Entity>(conn, &rows, &[]).await
}

/// The same in one statement of few values, for ops that were received together, as almost all are. False: they were
/// not, and nothing was written.
async fn insert_together(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    accepted: &[(OpId, uuid::Uuid, Stored)],
    chain: Option<Chain>,
) -> Result<bool> {
    let Some((_, _, first)) = accepted.first() else { return Ok(true) };
    let together = accepted.iter().zip(first.seq..).all(|((_, _, op), seq)| {
        let Acceptance { received, decision, .. } = op.accepted;
        (op.seq, received, decision) == (seq, first.accepted.received, first.accepted.decision)
    });
    if !together {
        return Ok(false);
    }
    let mut ids = Vec::with_capacity(accepted.len() * 48);
    let mut texts = Vec::with_capacity(accepted.iter().map(|(_, _, op)| op.text.len()).sum());
    let mut places = String::with_capacity(accepted.len() * 16);
    for (id, device, op) in accepted {
        for id in [&id.0, device, &op.accepted.by.0] {
            ids.extend_from_slice(id.as_bytes());
        }
        places.push(if places.is_empty() { '[' } else { ',' });
        let _ = write!(places, "{}", texts.len() << 31 | op.text.len());
        texts.extend_from_slice(op.text.as_bytes());
    }
    places.push(']');
    let values: [Value; 9] = [
        stream.0.into(),
        first.seq.cast_signed().into(),
        ids.into(),
        texts.into(),
        first.accepted.received.0.into(),
        first.accepted.decision.into(),
        chain.map(|chain| chain.0.to_vec()).into(),
        places.into(),
        i64::try_from(accepted.len() - 1).unwrap_or(i64::MAX).into(),
    ];
    let insert = Statement::from_sql_and_values(DbBackend::Sqlite, dialect::OPS_TOGETHER, values);
    conn.execute_raw(insert).await?;
    Ok(true)
}

/// The same in one statement of seven lists, whatever their length: PostgreSQL prepares it once, and reads a list
/// faster than it reads as many single values.
async fn insert_columns(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    accepted: &[(OpId, uuid::Uuid, Stored)],
    chain: Option<Chain>,
) -> Result<()> {
    let Some((_, _, last)) = accepted.last() else { return Ok(()) };
    let list = |kind, of: fn(&(OpId, uuid::Uuid, Stored)) -> Value| {
        Value::Array(kind, Some(Box::new(accepted.iter().map(of).collect())))
    };
    let values = [
        stream.0.into(),
        list(ArrayType::BigInt, |(_, _, op)| op.seq.cast_signed().into()),
        list(ArrayType::Uuid, |(id, ..)| id.0.into()),
        list(ArrayType::Uuid, |(_, device, _)| (*device).into()),
        list(ArrayType::String, |(_, _, op)| op.text.as_str().into()),
        list(ArrayType::Uuid, |(_, _, op)| op.accepted.by.0.into()),
        list(ArrayType::BigInt, |(_, _, op)| op.accepted.received.0.into()),
        list(ArrayType::Bool, |(_, _, op)| op.accepted.decision.into()),
        last.seq.cast_signed().into(),
        chain.map(|chain| chain.0.to_vec()).into(),
    ];
    conn.execute_raw(Statement::from_sql_and_values(DbBackend::Postgres, dialect::OPS_BY_COLUMN, values))
        .await?;
    Ok(())
}
