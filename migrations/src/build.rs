//! Short ways to write a table, so that a migration reads like the table it makes.
//!
//! Shapes only; which tables there are stands in the migrations.

use sea_orm_migration::prelude::*;

/// A table with these columns and this primary key.
pub fn table(name: &'static str, columns: Vec<ColumnDef>, key: &[&'static str]) -> TableCreateStatement {
    let mut table = Table::create().table(name).take();
    for column in columns {
        table.col(column);
    }
    let mut primary = Index::create();
    for part in key {
        primary.col(*part);
    }
    table.primary_key(&mut primary);
    table
}

/// Rows of `name.column` belong to a row of `parent.id`, and go with it.
pub fn belongs_to(
    table: &mut TableCreateStatement,
    name: &'static str,
    column: &'static str,
    parent: &'static str,
) {
    table.foreign_key(
        ForeignKey::create()
            .name(format!("{name}_{column}_fk"))
            .from(name, column)
            .to(parent, "id")
            .on_delete(ForeignKeyAction::Cascade),
    );
}

/// An index named after its table and columns.
pub fn index(table: &'static str, columns: &[&'static str]) -> IndexCreateStatement {
    let mut index = Index::create().name(format!("{table}_{}_ix", columns.join("_"))).table(table).take();
    for column in columns {
        index.col(*column);
    }
    index
}

/// Creates the tables, then the indices.
pub async fn create(
    manager: &SchemaManager<'_>,
    tables: Vec<TableCreateStatement>,
    indices: Vec<IndexCreateStatement>,
) -> Result<(), DbErr> {
    for table in tables {
        manager.create_table(table).await?;
    }
    for index in indices {
        manager.create_index(index).await?;
    }
    Ok(())
}
