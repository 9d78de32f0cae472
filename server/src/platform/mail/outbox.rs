//! Mail that waits: rows written in the transaction that wants a letter sent, tried a bounded number of times.

use sea_orm::ActiveValue::Set;
use sea_orm::{ColumnTrait, Condition, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

use crate::entities::mail_outbox::{ActiveModel, Column, Entity, Model};
use crate::platform::write::Write;
use crate::platform::{Actor, Ctx, Result, dialect, write};

/// How many letters are taken at once.
const HANDFUL: u64 = 20;
/// A letter that is being sent is not sent by another process meanwhile.
const IN_HAND_MS: i64 = 10 * 60_000;
/// Waits after each failure: in all about a day and a half.
const WAITS_MIN: [i64; 7] = [1, 5, 20, 60, 240, 720, 1200];
const KEPT_MS: i64 = 30 * 86_400_000;

/// A letter to be sent.
pub struct Letter {
    /// The same for the same letter: one that is queued twice is sent once.
    pub id: Uuid,
    /// A mail address.
    pub to: String,
    /// Its subject.
    pub subject: String,
    /// What it says.
    pub body: String,
}

/// No letter goes to an address any more, and none that waits names it.
pub async fn forget(w: &Write, address: &str) -> Result<()> {
    Entity::delete_many().filter(Column::Recipient.eq(address)).exec(w.tx()).await?;
    Ok(())
}

/// Puts a letter into the outbox.
pub async fn queue(w: &Write, letter: Letter) -> Result<()> {
    let row = ActiveModel {
        id: Set(letter.id),
        recipient: Set(letter.to),
        subject: Set(letter.subject),
        body: Set(letter.body),
        made_ms: Set(w.now),
        next_ms: Set(w.now),
        tries: Set(0),
        last_error: Set(None),
        sent_ms: Set(None),
        given_up_ms: Set(None),
    };
    Entity::insert(row).on_conflict_do_nothing_on([Column::Id]).exec_without_returning(w.tx()).await?;
    Ok(())
}

/// Takes letters that may be tried now.
pub(super) async fn take(ctx: &Ctx) -> Result<Vec<Model>> {
    let waiting = |now: i64| {
        let open = Condition::all().add(Column::SentMs.is_null()).add(Column::GivenUpMs.is_null());
        Entity::find()
            .filter(open)
            .filter(Column::NextMs.lte(now))
            .order_by_asc(Column::NextMs)
            .limit(HANDFUL)
    };
    // Looking is cheap; opening a write for nothing is not.
    if waiting(ctx.clock.now_ms()).one(&ctx.db.conn).await?.is_none() {
        return Ok(Vec::new());
    }
    write(ctx, &Actor::Server, async |w| {
        let taken = dialect::lock_rows_that_are_free(waiting(w.now), w.tx()).all(w.tx()).await?;
        for letter in &taken {
            let row =
                ActiveModel { id: Set(letter.id), next_ms: Set(w.now + IN_HAND_MS), ..Default::default() };
            Entity::update(row).exec(w.tx()).await?;
        }
        Ok(taken)
    })
    .await
}

/// The mail host has it: what it said is not kept.
pub(super) async fn sent(ctx: &Ctx, id: Uuid) -> Result<()> {
    write(ctx, &Actor::Server, async |w| {
        let row = ActiveModel { sent_ms: Set(Some(w.now)), ..emptied(id) };
        Entity::update(row).exec(w.tx()).await?;
        Ok(())
    })
    .await
}

/// It was not taken; true if it will be tried again.
pub(super) async fn failed(ctx: &Ctx, letter: &Model, error: &str, for_good: bool) -> Result<bool> {
    let wait =
        usize::try_from(letter.tries).ok().and_then(|tries| WAITS_MIN.get(tries)).filter(|_| !for_good);
    write(ctx, &Actor::Server, async |w| {
        let mut row = match wait {
            Some(minutes) => ActiveModel {
                id: Set(letter.id),
                next_ms: Set(w.now + minutes * 60_000),
                ..Default::default()
            },
            None => ActiveModel { given_up_ms: Set(Some(w.now)), ..emptied(letter.id) },
        };
        row.tries = Set(letter.tries + 1);
        row.last_error = Set(Some(error.to_owned()));
        Entity::update(row).exec(w.tx()).await?;
        Ok(())
    })
    .await?;
    Ok(wait.is_some())
}

fn emptied(id: Uuid) -> ActiveModel {
    let nothing = || Set(String::new());
    ActiveModel {
        id: Set(id),
        recipient: nothing(),
        subject: nothing(),
        body: nothing(),
        ..Default::default()
    }
}

/// Forgets letters that are long over.
pub(super) async fn forget_old(ctx: &Ctx) -> Result<()> {
    write(ctx, &Actor::Server, async |w| {
        let over = Condition::any().add(Column::SentMs.is_not_null()).add(Column::GivenUpMs.is_not_null());
        Entity::delete_many().filter(over).filter(Column::MadeMs.lt(w.now - KEPT_MS)).exec(w.tx()).await?;
        Ok(())
    })
    .await
}
