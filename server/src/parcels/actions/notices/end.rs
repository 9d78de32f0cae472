//! Ending a notice, and putting it up again.

use tarn_domain::clubs::Role;
use tarn_domain::parcels::{MOST_TEXT, is_line};
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::post::{ends_ms, not_too_many};
use super::{DONE, TAKEN_DOWN, state_at, stock_of, title_of};
use crate::clubs;
use crate::entities::notices::Model;
use crate::parcels::actions::may_leave::Rooms;
use crate::parcels::refusals::{NOTICE_OVER, NOTICE_STANDS, invalid};
use crate::parcels::store::notices as store;
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::messages::{self, Line};
use crate::platform::{Ctx, Problem, Result, write};

/// How a notice ends before its time.
pub enum End<'a> {
    /// The fish have gone to a keeper, or were found.
    Done,
    /// Its author takes it down; or an officer, who says why.
    TakenDown(Option<&'a str>),
}

/// Ends it. A secretary of the club may take down what others put up on its board, in writing.
///
/// # Errors
/// `not-found`, `invalid` (no reason), `notice-over`.
pub async fn end(ctx: &Ctx, who: &SignedIn, id: Uuid, how: End<'_>) -> Result<Model> {
    write(ctx, &who.actor(), async |w| {
        let nothing = || Problem::new(&NOT_FOUND);
        let mut row = store::lock(w.tx(), id).await?.ok_or_else(nothing)?;
        let own = row.author == who.account;
        let officer = clubs::store::has_role(w.tx(), row.club, who.account, Role::Secretary).await?;
        let (state, why) = match how {
            End::Done if own => (DONE, None),
            End::TakenDown(_) if own => (TAKEN_DOWN, None),
            End::TakenDown(why) if officer => (TAKEN_DOWN, Some(reason(why)?)),
            _ => return Err(nothing()),
        };
        if state_at(&row, w.now) != store::OPEN {
            return Err(Problem::new(&NOTICE_OVER));
        }
        state.clone_into(&mut row.state);
        row.version += 1;
        row.changed_ms = w.now;
        if let Some(why) = &why {
            let fact = format!("parcels:notice-taken-down:{id}:{}", row.version);
            let text = format!("An officer of the club took down your notice ({}): {why}", title_of(&row));
            let href = Some(format!("/notices/{id}"));
            messages::tell(w, Line { account: row.author, fact: &fact, text: &text, href }).await?;
        }
        row.why = why;
        store::save(w.tx(), row.clone()).await?;
        w.audit_of(row.club, "parcels", format!("notice {id} is {state}"));
        Ok(row)
    })
    .await
}

fn reason(why: Option<&str>) -> Result<String> {
    match why.map(str::trim).filter(|why| is_line(why, MOST_TEXT)) {
        Some(why) => Ok(why.to_owned()),
        None => Err(invalid(vec![("why", "Say why, so that the author knows what to do.".into())])),
    }
}

/// Puts it up again for the club's days. Its fish are asked about anew.
///
/// # Errors
/// `not-found` for everybody but its author and once they have left the club, `notice-stands`, `notice-over` (an
/// officer took it down), `quarantine-running`, `too-many-today`.
pub async fn again(ctx: &Ctx, who: &SignedIn, id: Uuid) -> Result<Model> {
    let account = AccountId(who.account);
    let own = |row: Option<Model>| {
        row.filter(|row| row.author == account.0).ok_or_else(|| Problem::new(&NOT_FOUND))
    };
    let row = own(store::notice(&ctx.db.conn, id).await?)?;
    if !store::is_member(&ctx.db.conn, row.club, account).await? {
        return Err(Problem::new(&NOT_FOUND).detail("You are not in this notice's club any more."));
    }
    if let Some(at) = stock_of(&row)
        && let Some(not_now) = Rooms::new(ctx).not_now(account, at).await?
    {
        return Err(not_now.problem("/stock"));
    }
    write(ctx, &who.actor(), async |w| {
        let mut row = own(store::lock(w.tx(), id).await?)?;
        if state_at(&row, w.now) == store::OPEN {
            return Err(Problem::new(&NOTICE_STANDS));
        }
        if let Some(why) = &row.why {
            return Err(
                Problem::new(&NOTICE_OVER).detail(format!("An officer of the club took it down: {why}"))
            );
        }
        not_too_many(w, account).await?;
        store::OPEN.clone_into(&mut row.state);
        (row.made_ms, row.changed_ms) = (w.now, w.now);
        row.ends_ms = ends_ms(w, row.club).await?;
        row.version += 1;
        store::save(w.tx(), row.clone()).await?;
        w.audit_of(row.club, "parcels", format!("notice {id} put up again"));
        Ok(row)
    })
    .await
}
