//! Lines on people's pages: each fact is told to an account once, however often somebody means to tell it.
//!
//! What is worth telling, and to whom, is the areas' to say. Nothing here sends anything.

use futures_util::future::LocalBoxFuture;
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::Expr;
use sea_orm::{
    ColumnTrait, Condition, ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder,
    QuerySelect,
};
use uuid::Uuid;

use super::errors::Result;
use super::write::Write;
use crate::entities::messages::{ActiveModel, Column, Entity, Model};

/// The longest line; what is longer is cut, so that nobody's long name fills another's page.
const MOST_SIGNS: usize = 500;

/// A line for somebody.
pub struct Line<'a> {
    /// Whose page it is for.
    pub account: Uuid,
    /// What makes it the same line when it is told again.
    pub fact: &'a str,
    /// The line.
    pub text: &'a str,
    /// Where it leads, on this site.
    pub href: Option<String>,
}

/// Somebody who reads along what another is told.
pub struct Copied {
    /// Whose page it comes to as well.
    pub account: Uuid,
    /// Whom it is about, in words.
    pub about: String,
    /// Where the copy leads: what the line itself leads to may not be theirs to see.
    pub href: &'static str,
}

/// Who reads along what an account is told.
pub type ReadsAlongFn = for<'a> fn(&'a Write, Uuid) -> LocalBoxFuture<'a, Result<Option<Copied>>>;

/// Set once, in `app.rs`; nobody without it.
#[derive(Default)]
pub struct ReadsAlong(pub Option<ReadsAlongFn>);

/// Tells somebody something, unless they were told already; and whoever reads along.
pub async fn tell(w: &Write, line: Line<'_>) -> Result<()> {
    let reads_along = w.ctx().part::<ReadsAlong>().0;
    if let Some(reads_along) = reads_along
        && let Some(copied) = reads_along(w, line.account).await?
    {
        let fact = format!("for:{}:{}", line.account, line.fact);
        let text = format!("For {}: {}", copied.about, line.text);
        let href = Some(copied.href.to_owned());
        keep(w, Line { account: copied.account, fact: &fact, text: &text, href }).await?;
    }
    keep(w, line).await
}

async fn keep(w: &Write, line: Line<'_>) -> Result<()> {
    let row = ActiveModel {
        id: Set(Uuid::new_v5(&line.account, line.fact.as_bytes())),
        account: Set(line.account),
        text: Set(one_line(line.text, MOST_SIGNS)),
        made_ms: Set(w.now),
        read_ms: Set(None),
        href: Set(line.href),
    };
    Entity::insert(row).on_conflict_do_nothing_on([Column::Id]).exec_without_returning(w.tx()).await?;
    Ok(())
}

/// Text without line breaks and other controls, at most so long.
pub fn one_line(text: &str, most: usize) -> String {
    let plain: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    match plain.char_indices().nth(most) {
        Some((cut, _)) => format!("{}…", plain[..cut].trim_end()),
        None => plain,
    }
}

/// A place in the list: when the line was made, and its id.
pub type Place = (i64, Uuid);

/// An account's lines after a place, the newest first.
pub async fn newest(
    conn: &impl ConnectionTrait,
    account: Uuid,
    after: Option<Place>,
    unread: bool,
    most: u64,
) -> Result<Vec<Model>> {
    let mut query = Entity::find().filter(Column::Account.eq(account));
    if let Some((made, id)) = after {
        let same = Condition::all().add(Column::MadeMs.eq(made)).add(Column::Id.lt(id));
        query = query.filter(Condition::any().add(Column::MadeMs.lt(made)).add(same));
    }
    if unread {
        query = query.filter(Column::ReadMs.is_null());
    }
    let query = query.order_by_desc(Column::MadeMs).order_by_desc(Column::Id).limit(most);
    Ok(query.all(conn).await?)
}

/// How many lines somebody has not read.
pub async fn unread(conn: &impl ConnectionTrait, account: Uuid) -> Result<u64> {
    let query = Entity::find().filter(Column::Account.eq(account)).filter(Column::ReadMs.is_null());
    Ok(query.count(conn).await?)
}

/// Unread lines made after one time and until another, the oldest first.
pub async fn unread_between(
    conn: &impl ConnectionTrait,
    account: Uuid,
    after_ms: i64,
    until_ms: i64,
) -> Result<Vec<Model>> {
    let query = Entity::find()
        .filter(Column::Account.eq(account))
        .filter(Column::ReadMs.is_null())
        .filter(Column::MadeMs.gt(after_ms))
        .filter(Column::MadeMs.lte(until_ms))
        .order_by_asc(Column::MadeMs)
        .order_by_asc(Column::Id);
    Ok(query.all(conn).await?)
}

/// Marks one line as read; false if it is not theirs.
pub async fn mark_read(w: &Write, account: Uuid, id: Uuid) -> Result<bool> {
    let Some(line) = Entity::find_by_id(id).one(w.tx()).await?.filter(|line| line.account == account) else {
        return Ok(false);
    };
    if line.read_ms.is_none() {
        let query = Entity::update_many().col_expr(Column::ReadMs, Expr::value(w.now));
        query.filter(Column::Id.eq(id)).exec(w.tx()).await?;
    }
    Ok(true)
}

/// Marks every line made until then as read.
pub async fn mark_all_read(w: &Write, account: Uuid, until_ms: i64) -> Result<()> {
    Entity::update_many()
        .col_expr(Column::ReadMs, Expr::value(w.now))
        .filter(Column::Account.eq(account))
        .filter(Column::ReadMs.is_null())
        .filter(Column::MadeMs.lte(until_ms))
        .exec(w.tx())
        .await?;
    Ok(())
}

/// Takes out every line of somebody.
pub async fn forget(w: &Write, account: Uuid) -> Result<()> {
    Entity::delete_many().filter(Column::Account.eq(account)).exec(w.tx()).await?;
    Ok(())
}

/// Takes out what somebody was told because they read along, of one whom it names so.
pub async fn forget_copies(w: &Write, copied: &Copied) -> Result<()> {
    let query =
        Entity::find().filter(Column::Account.eq(copied.account)).filter(Column::Href.eq(copied.href));
    let about = format!("For {}: ", copied.about);
    let theirs = query.all(w.tx()).await?.into_iter().filter(|row| row.text.starts_with(&about));
    let ids: Vec<Uuid> = theirs.map(|row| row.id).collect();
    for some in ids.chunks(500) {
        let gone = Entity::delete_many().filter(Column::Id.is_in(some.iter().copied()));
        gone.exec(w.tx()).await?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::one_line;

    #[test]
    fn a_line_is_one_line() {
        assert_eq!(one_line("Q1\r\nBcc: x\u{7}", 500), "Q1  Bcc: x ");
        assert_eq!(one_line("ääää", 3), "äää…");
        assert_eq!(one_line("äää", 3), "äää");
    }
}
