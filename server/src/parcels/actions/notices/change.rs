//! Changing what a notice says. Its kind, its club and its end stay.

use tarn_domain::parcels::NoticeSays;
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::post::sound;
use super::{kind_of, state_at, take_over};
use crate::entities::notices::Model;
use crate::parcels::actions::may_leave::Where;
use crate::parcels::refusals::{NOTICE_OVER, invalid};
use crate::parcels::store::notices as store;
use crate::platform::auth::SignedIn;
use crate::platform::edits::Expected;
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Ctx, Problem, Result, write};

/// What it is to say.
pub struct Change {
    /// All of it.
    pub says: NoticeSays,
    /// The stock it offers.
    pub stock: Option<Where>,
    /// Whether members of the other clubs here see it too.
    pub all_clubs: bool,
}

/// Changes it.
///
/// # Errors
/// `not-found` for everybody but its author, `notice-over`, `if-match-missing`, `not-the-newest`, `invalid`,
/// `quarantine-running`.
pub async fn change(
    ctx: &Ctx,
    who: &SignedIn,
    id: Uuid,
    expected: &Expected,
    change: Change,
) -> Result<Model> {
    let account = AccountId(who.account);
    let own = |row: Option<Model>| {
        row.filter(|row| row.author == account.0).ok_or_else(|| Problem::new(&NOT_FOUND))
    };
    let row = own(store::notice(&ctx.db.conn, id).await?)?;
    expected.check(row.version)?;
    if change.says.kind != kind_of(&row) {
        return Err(invalid(vec![(
            "kind",
            "A notice keeps its kind. End this one and put up another.".into(),
        )]));
    }
    sound(ctx, account, &change.says, change.stock).await?;
    write(ctx, &who.actor(), async |w| {
        let mut row = own(store::lock(w.tx(), id).await?)?;
        expected.check(row.version)?;
        if state_at(&row, w.now) != store::OPEN {
            return Err(Problem::new(&NOTICE_OVER));
        }
        take_over(&mut row, &change.says, change.stock, change.all_clubs);
        row.version += 1;
        row.changed_ms = w.now;
        store::save(w.tx(), row.clone()).await?;
        w.audit_of(row.club, "parcels", format!("notice {id} changed"));
        Ok(row)
    })
    .await
}
