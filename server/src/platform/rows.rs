//! Many rows of a table in one statement. The general builder takes longer to write such a statement down than the
//! database takes to run it. Must not know what the rows mean.

use std::fmt::Write;

use sea_orm::{
    ConnectionTrait, DbBackend, EntityTrait, IdenStatic, Iterable, ModelTrait, PrimaryKeyToColumn, Statement,
};

use super::dialect;
use super::errors::Result;

/// What becomes of a row whose key is there already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Taken {
    /// Nothing is written, and the statement fails.
    Fails,
    /// The new row stands in its place.
    Gives,
}

/// Inserts rows, as few statements as the database's bound on values allows.
pub async fn insert<E>(conn: &impl ConnectionTrait, rows: &[E::Model], taken: Taken) -> Result<()>
where
    E: EntityTrait,
    E::Model: ModelTrait<Entity = E>,
{
    let backend = conn.get_database_backend();
    let columns: Vec<E::Column> = E::Column::iter().collect();
    for some in rows.chunks(dialect::rows_per_insert(backend, columns.len())) {
        let values = some.iter().flat_map(|row| columns.iter().map(|column| row.get(*column)));
        let text = text::<E>(backend, &columns, some.len(), taken);
        conn.execute_raw(Statement::from_sql_and_values(backend, text, values)).await?;
    }
    Ok(())
}

fn text<E: EntityTrait>(backend: DbBackend, columns: &[E::Column], rows: usize, taken: Taken) -> String {
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
    if taken == Taken::Gives {
        let keys: Vec<String> = E::PrimaryKey::iter()
            .map(|key| format!("\"{}\"", PrimaryKeyToColumn::into_column(key).as_str()))
            .collect();
        let others = names.iter().filter(|name| !keys.contains(name));
        let set: Vec<String> = others.map(|name| format!("{name} = excluded.{name}")).collect();
        let _ = write!(text, " ON CONFLICT ({}) DO UPDATE SET {}", keys.join(", "), set.join(", "));
    }
    text
}
