//! The one module that knows which engine it talks to.
//!
//! Whatever SQLite and PostgreSQL write differently stands here; everywhere else one query serves both.

use sea_orm::sea_query::{LockBehavior, LockType};
use sea_orm::{
    ConnectionTrait, DatabaseTransaction, DbBackend, DbErr, EntityTrait, QuerySelect, Select, Statement,
};

/// Any number that no other program uses for its advisory locks in this database.
const MIGRATION_LOCK: i64 = 0x7461_726e;

/// Held until the transaction ends. SQLite has one writer anyway.
pub async fn lock_for_migration(tx: &DatabaseTransaction) -> Result<(), DbErr> {
    if tx.get_database_backend() == DbBackend::Postgres {
        let sql = format!("SELECT pg_advisory_xact_lock({MIGRATION_LOCK})");
        tx.query_one_raw(Statement::from_string(DbBackend::Postgres, sql)).await?;
    }
    Ok(())
}

/// The rows a query finds are locked until the transaction ends. On SQLite the whole database already is.
pub fn lock_rows<E: EntityTrait>(query: Select<E>, conn: &impl ConnectionTrait) -> Select<E> {
    if conn.get_database_backend() == DbBackend::Postgres { query.lock(LockType::Update) } else { query }
}

/// Like [`lock_rows`], but passes over rows that another process has locked: for queues.
pub fn lock_rows_that_are_free<E: EntityTrait>(query: Select<E>, conn: &impl ConnectionTrait) -> Select<E> {
    if conn.get_database_backend() == DbBackend::Postgres {
        query.lock_with_behavior(LockType::Update, LockBehavior::SkipLocked)
    } else {
        query
    }
}

/// After rows were inserted with their own numbers: the next one counts on from the greatest.
pub async fn count_on_from_greatest(
    tx: &DatabaseTransaction,
    table: &str,
    column: &str,
) -> Result<(), DbErr> {
    if tx.get_database_backend() == DbBackend::Postgres {
        let sql = format!(
            "SELECT setval(pg_get_serial_sequence('{table}', '{column}'), COALESCE(MAX({column}), 0) + 1, false) FROM {table}"
        );
        tx.query_one_raw(Statement::from_string(DbBackend::Postgres, sql)).await?;
    }
    Ok(())
}

/// Inserts ops of one stream into `ops` from seven lists; the chain stands with the last of them. PostgreSQL only.
pub const OPS_BY_COLUMN: &str = "INSERT INTO ops \
    (stream, seq, id, device, body, by_account, received, decision, chain) \
    SELECT $1, op.seq, op.id, op.device, op.body, op.by_account, op.received, op.decision, \
        CASE WHEN op.seq = $9 THEN $10 END \
    FROM unnest($2::bigint[], $3::uuid[], $4::uuid[], $5::text[], $6::uuid[], $7::bigint[], $8::boolean[]) \
        AS op (seq, id, device, body, by_account, received, decision)";

/// How many rows of so many columns go into one insert: both engines bound the values of a statement
/// (SQLite 32,766, PostgreSQL 65,535).
pub fn rows_per_insert(backend: DbBackend, columns: usize) -> usize {
    let values = if backend == DbBackend::Sqlite { 32_766 } else { 65_535 };
    (values / columns.max(1)).max(1)
}

/// What a database error asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// Another transaction was in the way: the same again may succeed.
    Again,
    /// The disk, or what the database may use of it, is full.
    Full,
    /// A key or reference that is already taken or not there.
    Conflict,
    /// Anything else.
    Broken,
}

/// Sorts a database error by what can be done about it.
pub fn trouble(err: &DbErr) -> Trouble {
    let code = match err {
        DbErr::Conn(e) | DbErr::Exec(e) | DbErr::Query(e) => sqlx_code(e),
        DbErr::ConnectionAcquire(_) => return Trouble::Again,
        _ => None,
    };
    // The codes of the two engines do not overlap: PostgreSQL's have five signs.
    match code.as_deref() {
        Some("40001" | "40P01" | "55P03" | "5" | "6" | "261" | "517") => Trouble::Again,
        Some("53100" | "13") => Trouble::Full,
        Some("23505" | "23503" | "787" | "1555" | "2067") => Trouble::Conflict,
        _ => Trouble::Broken,
    }
}

fn sqlx_code(err: &sea_orm::RuntimeErr) -> Option<String> {
    let sea_orm::RuntimeErr::SqlxError(err) = err else { return None };
    err.as_database_error()?.code().map(|code| code.into_owned())
}
