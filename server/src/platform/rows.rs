//! Many rows of a table in one statement. The general builder takes longer to write such a statement down than the
//! database takes to run it. Must not know what the rows mean.

use std::fmt::Write;

use sea_orm::{
    ConnectionTrait, DbBackend, EntityTrait, IdenStatic, Iterable, ModelTrait, PrimaryKeyToColumn, Statement,
};

use super::dialect;
use super::errors::Result;

/// Inserts rows, as few statements as the database's bound on values allows. Where a row of a key is there already, it
/// takes over these columns of the new one; if there are none to take over, the statement fails.
pub async fn insert<E>(conn: &impl ConnectionTrait, rows: &[E::Model], over: &[E::Column]) -> Result<()>
where
    E: EntityTrait,
    E::Model: ModelTrait<Entity = E>,
{
    let backend = conn.get_database_backend();
    let columns: Vec<E::Column> = E::Column::iter().collect();
    for some in rows.chunks(dialect::rows_per_insert(backend, columns.len())) {
        let values = some.iter().flat_map(|row| columns.iter().map(|column| row.get(*column)));
        let text = text::<E>(backend, &columns, some.len(), over);
        conn.execute_raw(Statement::from_sql_and_values(backend, text, values)).await?;
    }
    Ok(())
}

fn text<E: EntityTrait>(
    backend: DbBackend,
    columns: &[E::Column],
    rows: usize,
    over: &[E::Column],
) -> String {
    let names: Vec<String> = columns.iter().map(|column| format!("\"{}\"", column.as_str())).collect();
    let mut text = String::with_capacity(400 + rows * columns.len() * 7);
    let _ = write!(text, "INSERT INTO \"{}\" ({}) VALUES ", E::default().table_name(), names.join(", "));
    for row in 0..rows {
        for column in 0..columns.len() {
            text.push_str(match (row, column) {
                (0, 0) => "(",
                (_, 0) => "), (",
                _ => ", ",
            });
            let _ = match backend {
                DbBackend::Postgres => write!(text, "${}", row * columns.len() + column + 1),
                _ => text.write_char('?'),
            };
        }
    }
    text.push(')');
    if !over.is_empty() {
        let quoted = |column: E::Column| format!("\"{}\"", column.as_str());
        let keys: Vec<String> =
            E::PrimaryKey::iter().map(|key| quoted(PrimaryKeyToColumn::into_column(key))).collect();
        let set = over.iter().map(|column| quoted(*column)).map(|name| format!("{name} = excluded.{name}"));
        let set: Vec<String> = set.collect();
        let _ = write!(text, " ON CONFLICT ({}) DO UPDATE SET {}", keys.join(", "), set.join(", "));
    }
    text
}
