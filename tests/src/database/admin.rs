//! Statements from outside any server. Blocking, since tests are; on a thread of its own, so that a test with a
//! runtime can call it too.

use sea_orm::{ConnectOptions, ConnectionTrait, Database, DatabaseConnection, DbErr, Statement};
use uuid::Uuid;

/// Runs a future to its end on a fresh thread and runtime.
pub fn wait_for<T: Send>(future: impl Future<Output = T> + Send) -> T {
    std::thread::scope(|scope| {
        let worker = scope.spawn(|| {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
            runtime.expect("a runtime can be made").block_on(future)
        });
        worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
    })
}

/// One connection, to be closed by the caller: a template must not have any left.
pub async fn connect(url: &str) -> Result<DatabaseConnection, DbErr> {
    let mut options = ConnectOptions::new(url);
    options.max_connections(1).sqlx_logging(false);
    Database::connect(options).await
}

/// Runs the statements one by one, each outside a transaction.
pub fn try_execute(url: &str, statements: &[&str]) -> Result<(), DbErr> {
    wait_for(async {
        let connection = connect(url).await?;
        for statement in statements {
            connection.execute_unprepared(statement).await?;
        }
        connection.close().await
    })
}

/// The same where a failure is the test's.
pub fn execute(url: &str, statements: &[&str]) {
    try_execute(url, statements).unwrap_or_else(|e| panic!("{e}, at one of {statements:?} on {url}"));
}

/// The one number that a `SELECT count(*)` gives.
pub fn count(url: &str, query: &str) -> i64 {
    let counted = wait_for(async {
        let connection = connect(url).await?;
        let statement = Statement::from_string(connection.get_database_backend(), query);
        let row = connection.query_one_raw(statement).await?;
        connection.close().await?;
        row.ok_or_else(|| DbErr::RecordNotFound(query.into()))?.try_get_by_index(0)
    });
    counted.unwrap_or_else(|e| panic!("{e}, at {query} on {url}"))
}

/// What a query over these ids (`$1` and so on) gives, whose rows are a number, an id and a text.
pub fn read(url: &str, query: &str, ids: &[Uuid]) -> Vec<(i64, Uuid, String)> {
    let read = wait_for(async {
        let connection = connect(url).await?;
        let values = ids.iter().map(|id| (*id).into());
        let statement = Statement::from_sql_and_values(connection.get_database_backend(), query, values);
        let rows = connection.query_all_raw(statement).await?;
        connection.close().await?;
        let row = |row: &sea_orm::QueryResult| {
            Ok((row.try_get_by_index(0)?, row.try_get_by_index(1)?, row.try_get_by_index(2)?))
        };
        rows.iter().map(row).collect::<Result<_, DbErr>>()
    });
    read.unwrap_or_else(|e| panic!("{e}, at {query} on {url}"))
}
