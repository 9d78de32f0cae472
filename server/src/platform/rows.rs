//! Many rows of a table in one statement, whose text does not hang on how many they are: the database prepares it once.
//! The general builder takes longer to write such a statement down than the database takes to run it. Must not know
//! what the rows mean.

use sea_orm::{
    ColumnTrait, ConnectionTrait, EntityTrait, IdenStatic, Iterable, ModelTrait, PrimaryKeyToColumn,
    Statement,
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
    let may_be_null: Vec<bool> = columns.iter().map(|column| column.def().is_null()).collect();
    for some in rows.chunks(dialect::rows_per_insert(backend, columns.len())) {
        let values = some.iter().map(|row| columns.iter().map(|column| row.get(*column)).collect()).collect();
        let (from, values) = dialect::rows_of(backend, &may_be_null, values);
        let text = format!("{} {from}{}", into::<E>(&columns), taking_over::<E>(over));
        conn.execute_raw(Statement::from_sql_and_values(backend, text, values)).await?;
    }
    Ok(())
}

fn quoted(column: impl IdenStatic) -> String {
    format!("\"{}\"", column.as_str())
}

fn into<E: EntityTrait>(columns: &[E::Column]) -> String {
    let names: Vec<String> = columns.iter().copied().map(quoted).collect();
    format!("INSERT INTO \"{}\" ({})", E::default().table_name(), names.join(", "))
}

fn taking_over<E: EntityTrait>(over: &[E::Column]) -> String {
    if over.is_empty() {
        return String::new();
    }
    let keys: Vec<String> =
        E::PrimaryKey::iter().map(|key| quoted(PrimaryKeyToColumn::into_column(key))).collect();
    let set = over.iter().copied().map(quoted).map(|name| format!("{name} = excluded.{name}"));
    let set: Vec<String> = set.collect();
    format!(" ON CONFLICT ({}) DO UPDATE SET {}", keys.join(", "), set.join(", "))
}
