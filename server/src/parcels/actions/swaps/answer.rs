//! Declining and withdrawing.

use tarn_domain::parcels::{SwapAct, SwapState, after};
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::{has_left, name_of, opposite, side, state_at, tell};
use crate::entities::swaps::Model;
use crate::parcels::refusals::swap_told;
use crate::parcels::store::swaps as store;
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Ctx, Problem, Result, write};

/// Declines a proposal.
///
/// # Errors
/// `not-found`, `swap-over`, `swap-other-side`.
pub async fn decline(ctx: &Ctx, who: &SignedIn, id: Uuid) -> Result<Model> {
    answer(ctx, who, id, SwapAct::Decline).await
}

/// Takes back a proposal, or what was agreed while nothing has left.
///
/// # Errors
/// `not-found`, `swap-over`, `swap-other-side`, `swap-left`.
pub async fn withdraw(ctx: &Ctx, who: &SignedIn, id: Uuid) -> Result<Model> {
    answer(ctx, who, id, SwapAct::Withdraw).await
}

async fn answer(ctx: &Ctx, who: &SignedIn, id: Uuid, act: SwapAct) -> Result<Model> {
    let account = AccountId(who.account);
    write(ctx, &who.actor(), async |w| {
        let nothing = || Problem::new(&NOT_FOUND).detail("There is no swap with this id, or none of yours.");
        let mut row = store::lock(w.tx(), id).await?.ok_or_else(nothing)?;
        let on = side(&row, account)?;
        let before = state_at(&row, w.now);
        let left = before == SwapState::Agreed && has_left(w.tx(), &row).await?;
        let state = after(before, act, on, left).map_err(swap_told)?;
        state.as_str().clone_into(&mut row.state);
        row.changed_ms = w.now;
        store::save(w.tx(), row.clone()).await?;
        let name = name_of(w, account).await?;
        let words = match (act, before) {
            (SwapAct::Withdraw, SwapState::Agreed) => {
                format!(
                    "{name} has withdrawn from a swap that was agreed. Unpack what you have packed for it."
                )
            }
            (SwapAct::Withdraw, _) => format!("{name} has withdrawn a proposal of a swap."),
            _ => format!("{name} has declined your proposal of a swap."),
        };
        tell(w, id, opposite(&row, on), state.as_str(), &words).await?;
        w.audit("parcels", format!("swap {id} is {}", state.as_str()));
        Ok(row)
    })
    .await
}
