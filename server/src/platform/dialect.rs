//! The one module that knows which engine it talks to.
//!
//! Whatever SQLite and PostgreSQL write differently stands here; everywhere else one query serves both.

use std::fmt::Write;

use sea_orm::sea_query::{ArrayType, LockBehavior, LockType};
use sea_orm::sqlx::{self, postgres::PgListener};
use sea_orm::{
    ConnectionTrait, DatabaseConnection, DatabaseTransaction, DbBackend, DbErr, EntityTrait, QuerySelect,
    RuntimeErr, Select, Statement, Value,
};
use uuid::Uuid;

/// Any number that no other program uses for its advisory locks in this database.
const MIGRATION_LOCK: i64 = 0x7461_726e;

/// Held until the transaction ends. SQLite has one writer anyway.
pub async fn lock_for_migration(tx: &DatabaseTransaction) -> Result<(), DbErr> {
    lock(tx, MIGRATION_LOCK).await
}

/// The lock under which somebody's ancestors are changed.
const LINEAGE_LOCK: i64 = MIGRATION_LOCK + 1;

/// Nobody else changes who descends from whom until the transaction ends. SQLite has one writer anyway.
pub async fn lock_lineage(tx: &DatabaseTransaction) -> Result<(), DbErr> {
    lock(tx, LINEAGE_LOCK).await
}

async fn lock(tx: &DatabaseTransaction, number: i64) -> Result<(), DbErr> {
    if tx.get_database_backend() == DbBackend::Postgres {
        let sql = format!("SELECT pg_advisory_xact_lock({number})");
        tx.query_one_raw(Statement::from_string(DbBackend::Postgres, sql)).await?;
    }
    Ok(())
}

/// From now on, or no longer, this connection overwrites in the file what it replaces. SQLite else leaves it in free pages;
/// PostgreSQL keeps it until its next vacuum, whatever is asked.
pub async fn overwrite_what_is_replaced(conn: &impl ConnectionTrait, on: bool) -> Result<(), DbErr> {
    if conn.get_database_backend() == DbBackend::Sqlite {
        let sql = if on { "PRAGMA secure_delete = ON" } else { "PRAGMA secure_delete = OFF" };
        conn.execute_unprepared(sql).await?;
    }
    Ok(())
}

/// The channel of [`tell`].
const CHANNEL: &str = "tarn_moved";

/// Tells every process that listens on this database. Others than PostgreSQL have one process, which knows already.
pub async fn tell(conn: &impl ConnectionTrait, words: Vec<String>) -> Result<(), DbErr> {
    if conn.get_database_backend() == DbBackend::Postgres {
        let sql = "SELECT pg_notify($1, word) FROM unnest($2::text[]) AS told (word)";
        let words = words.into_iter().map(Value::from).collect();
        let words = Value::Array(ArrayType::String, Some(Box::new(words)));
        conn.execute_raw(Statement::from_sql_and_values(DbBackend::Postgres, sql, [CHANNEL.into(), words]))
            .await?;
    }
    Ok(())
}

/// What other processes tell, over a connection of its own; none where there are no others.
pub struct Listener(PgListener);

impl Listener {
    /// Begins to listen.
    pub async fn open(conn: &DatabaseConnection, url: &str) -> Result<Option<Self>, DbErr> {
        if conn.get_database_backend() != DbBackend::Postgres {
            return Ok(None);
        }
        let odd = |e: sqlx::Error| DbErr::Conn(RuntimeErr::SqlxError(e.into()));
        let mut listener = PgListener::connect(url).await.map_err(odd)?;
        listener.listen(CHANNEL).await.map_err(odd)?;
        Ok(Some(Self(listener)))
    }

    /// The next word; none if the connection was lost and made anew: then something may have been missed.
    pub async fn next(&mut self) -> Result<Option<String>, DbErr> {
        let heard = self.0.try_recv().await.map_err(|e| DbErr::Conn(RuntimeErr::SqlxError(e.into())))?;
        Ok(heard.map(|notice| notice.payload().to_owned()))
    }
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

/// What ops have in common that are numbered one after the other.
pub struct Common {
    /// The stream.
    pub stream: Uuid,
    /// The number of the first.
    pub first: i64,
    /// Which device wrote them.
    pub device: Uuid,
    /// Who pushed them.
    pub by: Uuid,
    /// When they were received.
    pub received: i64,
    /// Whether they are decisions.
    pub decision: bool,
    /// What stands with the last of them.
    pub chain: Option<Vec<u8>>,
}

/// SQLite: the ids one after the other, 16 bytes each (`?7`), and so their texts (`?8`), of which a list says for each
/// where it begins (times 2^31) and how long it is (`?9`). A text that is bound by itself is copied four times on its
/// way.
const TOGETHER_SQLITE: &str = "INSERT INTO ops (stream, seq, id, device, body, by_account, received, decision, chain) \
    SELECT ?1, ?2 + op.key, substr(?7, op.key * 16 + 1, 16), ?3, \
        CAST(substr(?8, (op.value >> 31) + 1, op.value & 2147483647) AS TEXT), ?4, ?5, ?6, \
        CASE WHEN op.key = ?11 THEN ?10 END \
    FROM json_each(?9) AS op";

/// PostgreSQL: a list of ids and one of texts, whatever their length, so that it is prepared once.
const TOGETHER_POSTGRES: &str = "INSERT INTO ops (stream, seq, id, device, body, by_account, received, decision, chain) \
    SELECT $1, $2 + op.n - 1, op.id, $3, op.body, $4, $5, $6, CASE WHEN op.n = $10 THEN $9::bytea END \
    FROM unnest($7::uuid[], $8::text[]) WITH ORDINALITY AS op (id, body, n)";

/// Inserts ops into `ops` of which only the ids and the texts are their own.
pub fn ops_together(backend: DbBackend, common: Common, own: Vec<(Uuid, String)>) -> Statement {
    let Common { stream, first, device, by, received, decision, chain } = common;
    let count = i64::try_from(own.len()).unwrap_or(i64::MAX);
    let mut values: Vec<Value> = Vec::with_capacity(11);
    values.extend([stream.into(), first.into(), device.into(), by.into(), received.into(), decision.into()]);
    if backend == DbBackend::Postgres {
        let (ids, texts): (Vec<Value>, Vec<Value>) =
            own.into_iter().map(|(id, text)| (Value::from(id), Value::from(text))).unzip();
        let list = |kind, list| Value::Array(kind, Some(Box::new(list)));
        values.extend([
            list(ArrayType::Uuid, ids),
            list(ArrayType::String, texts),
            chain.into(),
            count.into(),
        ]);
        return Statement::from_sql_and_values(backend, TOGETHER_POSTGRES, values);
    }
    let mut ids = Vec::with_capacity(own.len() * 16);
    let mut texts = Vec::with_capacity(own.iter().map(|(_, text)| text.len()).sum());
    let mut places = String::with_capacity(own.len() * 16);
    for (id, text) in own {
        ids.extend_from_slice(id.as_bytes());
        places.push(if places.is_empty() { '[' } else { ',' });
        let _ = write!(places, "{}", texts.len() << 31 | text.len());
        texts.extend_from_slice(text.as_bytes());
    }
    places.push(']');
    values.extend([ids.into(), texts.into(), places.into(), chain.into(), (count - 1).into()]);
    Statement::from_sql_and_values(backend, TOGETHER_SQLITE, values)
}

/// How many rows of so many columns go into one insert: both engines bound the values of a statement
/// (SQLite 32,766, PostgreSQL 65,535).
pub fn rows_per_insert(backend: DbBackend, columns: usize) -> usize {
    let values = if backend == DbBackend::Sqlite { 32_766 } else { 65_535 };
    (values / columns.max(1)).max(1)
}

/// Where an insert takes its rows from (what follows `INSERT INTO table (columns)`), and the values it binds. The text
/// is the same for many numbers of rows, so that it is prepared once. The first column is never NULL; for each it is
/// said whether it may be.
pub fn rows_of(backend: DbBackend, may_be_null: &[bool], rows: Vec<Vec<Value>>) -> (String, Vec<Value>) {
    if backend == DbBackend::Postgres { lists(may_be_null, rows) } else { places(may_be_null.len(), rows) }
}

/// Places for a power of two of rows; those that nothing is bound to are NULL, and left out.
fn places(columns: usize, rows: Vec<Vec<Value>>) -> (String, Vec<Value>) {
    let most = rows_per_insert(DbBackend::Sqlite, columns);
    let row = format!("({})", vec!["?"; columns].join(","));
    let all = vec![row; rows.len().next_power_of_two().min(most).max(rows.len())].join(",");
    let text = format!("SELECT * FROM (VALUES {all}) WHERE column1 IS NOT NULL");
    (text, rows.into_iter().flatten().collect())
}

/// One list a column, whatever the number of rows; one more for each that may be NULL, since a list here can't hold
/// any.
fn lists(may_be_null: &[bool], rows: Vec<Vec<Value>>) -> (String, Vec<Value>) {
    let mut columns: Vec<Vec<Value>> = may_be_null.iter().map(|_| Vec::with_capacity(rows.len())).collect();
    for row in rows {
        columns.iter_mut().zip(row).for_each(|(column, value)| column.push(value));
    }
    let (mut picked, mut unnested, mut names, mut values) = (vec![], vec![], vec![], vec![]);
    for (n, (mut column, null)) in columns.into_iter().zip(may_be_null).enumerate() {
        let (kind, word, filler): (_, _, Value) = match column.first() {
            Some(Value::Bool(_)) => (ArrayType::Bool, "boolean", false.into()),
            Some(Value::Int(_)) => (ArrayType::Int, "integer", 0.into()),
            Some(Value::BigInt(_)) => (ArrayType::BigInt, "bigint", 0i64.into()),
            Some(Value::Uuid(_)) => (ArrayType::Uuid, "uuid", Uuid::nil().into()),
            Some(Value::Bytes(_)) => (ArrayType::Bytes, "bytea", Vec::<u8>::new().into()),
            _ => (ArrayType::String, "text", String::new().into()),
        };
        let mut list = |name: String, kind, word, list| {
            values.push(Value::Array(kind, Some(Box::new(list))));
            unnested.push(format!("${}::{word}[]", values.len()));
            names.push(name);
        };
        if *null {
            let is_nothing: Vec<bool> = column.iter().map(is_null).collect();
            column.iter_mut().filter(|value| is_null(value)).for_each(|value| *value = filler.clone());
            let is_nothing = is_nothing.into_iter().map(Value::from).collect();
            list(format!("n{n}"), ArrayType::Bool, "boolean", is_nothing);
            picked.push(format!("CASE WHEN NOT n{n} THEN c{n} END"));
        } else {
            picked.push(format!("c{n}"));
        }
        list(format!("c{n}"), kind, word, column);
    }
    let (picked, unnested, names) = (picked.join(", "), unnested.join(", "), names.join(", "));
    (format!("SELECT {picked} FROM unnest({unnested}) AS given ({names})"), values)
}

fn is_null(value: &Value) -> bool {
    use Value::{BigInt, Bool, Bytes, Int, String, Uuid};
    matches!(value, Bool(None) | Int(None) | BigInt(None) | Uuid(None) | Bytes(None) | String(None))
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

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(n: i64) -> Vec<Vec<Value>> {
        let half = |n: i64| (n % 2 == 0).then(|| n.to_string());
        (0..n).map(|n| vec![n.into(), half(n).into()]).collect()
    }

    #[test]
    fn a_text_serves_many_numbers_of_rows() {
        let text = |backend, n| rows_of(backend, &[false, true], rows(n)).0;
        assert_eq!(text(DbBackend::Sqlite, 65), text(DbBackend::Sqlite, 128));
        assert_eq!(text(DbBackend::Postgres, 1), text(DbBackend::Postgres, 300));
        assert_eq!(text(DbBackend::Sqlite, 16_383).matches('?').count(), 32_766);
    }

    #[test]
    fn what_is_null_stands_in_a_list_of_its_own() {
        let (text, values) = rows_of(DbBackend::Postgres, &[false, true], rows(2));
        assert!(text.starts_with("SELECT c0, CASE WHEN NOT n1 THEN c1 END FROM unnest("), "{text}");
        let list = |kind, list: Vec<Value>| Value::Array(kind, Some(Box::new(list)));
        let wanted = [
            list(ArrayType::BigInt, vec![0i64.into(), 1i64.into()]),
            list(ArrayType::Bool, vec![false.into(), true.into()]),
            list(ArrayType::String, vec!["0".into(), "".into()]),
        ];
        assert_eq!(values, wanted);
    }
}
