//! The columns of a table, and how their values are written as JSON and read back.

use base64::Engine;
use base64::engine::general_purpose::STANDARD_NO_PAD;
use sea_orm::sea_query::{Alias, ColumnType, InsertStatement, Query, SelectStatement};
use sea_orm::{
    ColumnTrait, DbErr, EntityTrait, IdenStatic, Iterable, PrimaryKeyToColumn, QueryResult, Value as Sql,
};
use serde_json::{Map, Value};
use uuid::Uuid;

/// A table: its name and columns.
pub struct Shape {
    /// Its name.
    pub name: &'static str,
    columns: Vec<Column>,
    key: Vec<&'static str>,
}

#[derive(Clone, Copy)]
struct Column {
    name: &'static str,
    kind: Kind,
}

#[derive(Clone, Copy)]
enum Kind {
    Id,
    Text,
    Int,
    BigInt,
    Bool,
    Bytes,
}

impl Shape {
    /// Of an entity.
    pub fn of<E: EntityTrait>(entity: E) -> Self {
        let column =
            |column: E::Column| Column { name: column.as_str(), kind: kind(column.def().get_column_type()) };
        Self {
            name: Box::leak(entity.table_name().to_owned().into_boxed_str()),
            columns: E::Column::iter().map(column).collect(),
            key: E::PrimaryKey::iter().map(|key| key.into_column().as_str()).collect(),
        }
    }

    /// How many values a row has.
    pub fn width(&self) -> usize {
        self.columns.len()
    }

    /// All rows, in the order of the key.
    pub fn select(&self) -> SelectStatement {
        let mut select = Query::select();
        select.columns(self.columns.iter().map(|c| Alias::new(c.name))).from(Alias::new(self.name));
        for key in &self.key {
            select.order_by(Alias::new(*key), sea_orm::Order::Asc);
        }
        select.take()
    }

    /// These rows.
    pub fn insert(&self, rows: Vec<Vec<Sql>>) -> InsertStatement {
        let mut insert = Query::insert();
        insert.into_table(Alias::new(self.name)).columns(self.columns.iter().map(|c| Alias::new(c.name)));
        for row in rows {
            insert.values_panic(row.into_iter().map(sea_orm::sea_query::Expr::from));
        }
        insert.take()
    }

    /// A row as a line.
    pub fn to_json(&self, row: &QueryResult) -> Result<Value, DbErr> {
        let mut object = Map::new();
        for (i, column) in self.columns.iter().enumerate() {
            object.insert(column.name.to_owned(), column.kind.to_json(row, i)?);
        }
        Ok(Value::Object(object))
    }

    /// The same table with only the columns that a line has: an archive that was made before a column was added is
    /// filled with what the column begins with.
    pub fn known_to(&self, line: &str) -> Result<Self, String> {
        let object: Map<String, Value> = serde_json::from_str(line).map_err(|err| err.to_string())?;
        let there = |column: &&Column| object.contains_key(column.name);
        let columns = self.columns.iter().filter(there).copied().collect();
        Ok(Self { name: self.name, columns, key: self.key.clone() })
    }

    /// A line as a row.
    pub fn to_row(&self, line: &str) -> Result<Vec<Sql>, String> {
        let mut object: Map<String, Value> = serde_json::from_str(line).map_err(|err| err.to_string())?;
        let mut row = Vec::with_capacity(self.columns.len());
        for column in &self.columns {
            let value =
                object.remove(column.name).ok_or_else(|| format!("{} has no {}", self.name, column.name))?;
            let sql = column
                .kind
                .to_sql(&value)
                .ok_or_else(|| format!("{}.{} can't be {value}", self.name, column.name))?;
            row.push(sql);
        }
        match object.keys().next() {
            Some(unknown) => Err(format!("{} has no column {unknown}", self.name)),
            None => Ok(row),
        }
    }
}

fn kind(of: &ColumnType) -> Kind {
    match of {
        ColumnType::Uuid => Kind::Id,
        ColumnType::Integer => Kind::Int,
        ColumnType::BigInteger => Kind::BigInt,
        ColumnType::Boolean => Kind::Bool,
        ColumnType::Blob | ColumnType::Binary(_) | ColumnType::VarBinary(_) => Kind::Bytes,
        _ => Kind::Text,
    }
}

impl Kind {
    fn to_json(self, row: &QueryResult, i: usize) -> Result<Value, DbErr> {
        Ok(match self {
            Self::Id => row.try_get_by_index::<Option<Uuid>>(i)?.map(|id| id.to_string()).into(),
            Self::Text => row.try_get_by_index::<Option<String>>(i)?.into(),
            Self::Int => row.try_get_by_index::<Option<i32>>(i)?.into(),
            Self::BigInt => row.try_get_by_index::<Option<i64>>(i)?.into(),
            Self::Bool => row.try_get_by_index::<Option<bool>>(i)?.into(),
            Self::Bytes => {
                row.try_get_by_index::<Option<Vec<u8>>>(i)?.map(|bytes| STANDARD_NO_PAD.encode(bytes)).into()
            }
        })
    }

    /// None when the value is not of this kind.
    fn to_sql(self, value: &Value) -> Option<Sql> {
        if value.is_null() {
            return Some(match self {
                Self::Id => Sql::Uuid(None),
                Self::Text => Sql::String(None),
                Self::Int => Sql::Int(None),
                Self::BigInt => Sql::BigInt(None),
                Self::Bool => Sql::Bool(None),
                Self::Bytes => Sql::Bytes(None),
            });
        }
        Some(match self {
            Self::Id => value.as_str()?.parse::<Uuid>().ok()?.into(),
            Self::Text => value.as_str()?.into(),
            Self::Int => i32::try_from(value.as_i64()?).ok()?.into(),
            Self::BigInt => value.as_i64()?.into(),
            Self::Bool => value.as_bool()?.into(),
            Self::Bytes => STANDARD_NO_PAD.decode(value.as_str()?).ok()?.into(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entities::{audit_facts, refresh_tokens};

    #[test]
    fn a_line_that_is_no_row_is_refused_by_name() {
        let shape = Shape::of(refresh_tokens::Entity);
        let good = r#"{"hash":"AQID","session":"00000000-0000-0000-0000-000000000001","issued_ms":1,"first_used_ms":null,"parent":null}"#;
        assert_eq!(shape.to_row(good).map(|row| row.len()), Ok(5));
        for (from, to, named) in [
            ("AQID", "!", "hash"),
            ("\"issued_ms\":1", "\"issued_ms\":\"x\"", "issued_ms"),
            ("parent", "other", "parent"),
        ] {
            let err = shape.to_row(&good.replace(from, to)).expect_err(to);
            assert!(err.contains(named), "{err}");
        }
    }

    #[test]
    fn an_archive_from_before_a_column_was_added_is_read() {
        let shape = Shape::of(audit_facts::Entity);
        let old = r#"{"id":1,"at_ms":2,"actor":null,"area":"clubs","fact":"a club","digest":"AA"}"#;
        assert!(shape.to_row(old).expect_err("refused").contains("has no"));
        let then = shape.known_to(old).expect("read");
        assert!(then.width() < shape.width());
        assert_eq!(then.to_row(old).expect("read").len(), 6);
        let newer = r#"{"id":1,"weather":"fine"}"#;
        let no = shape.known_to(newer).expect("read").to_row(newer).expect_err("refused");
        assert!(no.contains("has no column weather"), "{no}");
    }
}
