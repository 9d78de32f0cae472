//! Queries over `op_counts`.

use sea_orm::{ConnectionTrait, DbErr, Statement};
use tarn_domain::streams::AccountId;

use crate::platform::Result;

/// One row an account, so that nothing has to be cleared away; another day begins at nothing.
const COUNT: &str = "INSERT INTO op_counts (account, day, n) VALUES ($1, $2, $3) \
    ON CONFLICT (account) DO UPDATE SET day = excluded.day, \
    n = CASE WHEN op_counts.day = excluded.day THEN op_counts.n ELSE 0 END + excluded.n RETURNING n";

/// Counts so many more (or fewer) ops of an account on a day, and says how many that makes. Locks the account's count
/// until the transaction ends, so that several processes count right.
pub async fn count(conn: &impl ConnectionTrait, account: AccountId, day: i64, more: i64) -> Result<u64> {
    let values = [account.0.into(), day.into(), more.into()];
    let counted = Statement::from_sql_and_values(conn.get_database_backend(), COUNT, values);
    let row = conn.query_one_raw(counted).await?;
    let row = row.ok_or_else(|| DbErr::RecordNotFound("the count of an account's ops".into()))?;
    Ok(row.try_get_by_index::<i64>(0)?.max(0).unsigned_abs())
}
