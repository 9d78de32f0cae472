//! Agreeing: both sides' fish are asked about once more, and each side that gives something gets a parcel's id.

use tarn_domain::parcels::{SwapAct, SwapState, after};
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::propose::{Given, given};
use super::{MOST_ROWS, name_of, opposite, side, state_at, tell};
use crate::accounts::store as accounts_store;
use crate::entities::{swap_rows, swaps::Model};
use crate::parcels::actions::may_leave::{Rooms, Where};
use crate::parcels::actions::threads::answered_by;
use crate::parcels::refusals::{SWAP_NOT_NOW, invalid, swap_told};
use crate::parcels::store::{notices as notice_store, swaps as store};
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::messages::{self, Line};
use crate::platform::{Ctx, Problem, Result, Write, write};
use tarn_domain::streams::{StockId, StreamId};

/// Agrees. `give`: which of their stocks the one who agrees would give; else those of the notices that were named.
///
/// # Errors
/// `not-found`, `swap-over`, `swap-other-side`, `quarantine-running`, `swap-not-now`, `invalid`.
pub async fn agree(ctx: &Ctx, who: &SignedIn, id: Uuid, give: Option<Vec<Given>>) -> Result<Model> {
    let account = AccountId(who.account);
    let conn = &ctx.db.conn;
    let nothing = || Problem::new(&NOT_FOUND).detail("There is no swap with this id, or none of yours.");
    let row = store::swap(conn, id).await?.ok_or_else(nothing)?;
    let on = side(&row, account)?;
    after(state_at(&row, ctx.clock.now_ms()), SwapAct::Agree, on, false).map_err(swap_told)?;
    let rows = store::rows(conn, id).await?;
    let proposer = AccountId(row.proposer);
    let mut rooms = Rooms::new(ctx);
    for given in rows.iter().filter(|row| !row.asked) {
        if let Some(at) = place_of(given)
            && rooms.not_now(proposer, at).await?.is_some()
        {
            return Err(Problem::new(&SWAP_NOT_NOW));
        }
    }
    let mut wards = Vec::new();
    let own = match give {
        Some(give) if give.len() > MOST_ROWS => {
            return Err(invalid(vec![("give", format!("At most {MOST_ROWS} rows a side."))]));
        }
        Some(give) if !give.is_empty() => given(ctx, account, id, &give, true, "/give").await?,
        _ => offered(ctx, account, &mut rooms, &rows, &mut wards).await?,
    };
    write(ctx, &who.actor(), async |w| {
        let mut row = store::lock(w.tx(), id).await?.ok_or_else(nothing)?;
        let state = after(state_at(&row, w.now), SwapAct::Agree, on, false).map_err(swap_told)?;
        state.as_str().clone_into(&mut row.state);
        row.changed_ms = w.now;
        let gives = rows.iter().any(|row| !row.asked) || row.give_words.is_some();
        let is_asked = !own.is_empty() || row.ask_words.is_some();
        row.give_parcel = gives.then(|| ctx.ids.new_id(w.now));
        row.ask_parcel = is_asked.then(|| ctx.ids.new_id(w.now));
        store::clear_rows(w.tx(), id, true).await?;
        store::insert_rows(w.tx(), own.clone()).await?;
        store::save(w.tx(), row.clone()).await?;
        for (to, packs) in [(proposer, gives), (account, is_asked)] {
            let with = opposite(&row, side(&row, to)?);
            let with = name_of(w, with).await?;
            let next = if packs { "Its page says what to pack." } else { "Nothing is to be packed by you." };
            tell(w, id, to, "agreed", &format!("You and {with} have agreed to a swap. {next}")).await?;
        }
        for ward in &wards {
            tell_ward(w, *ward, proposer, &row).await?;
        }
        w.audit("parcels", format!("swap {id} is {}", SwapState::Agreed.as_str()));
        Ok(row)
    })
    .await
}

fn place_of(row: &swap_rows::Model) -> Option<Where> {
    Some((StreamId(row.room?), StockId(row.stock?)))
}

/// Whoever is under age has the fish; the one who answers for them has agreed.
async fn tell_ward(w: &Write, ward: AccountId, proposer: AccountId, row: &Model) -> Result<()> {
    let Some(parcel) = row.ask_parcel else { return Ok(()) };
    let taker = accounts_store::account(w.tx(), proposer.0).await?.map(|row| row.login_name);
    let taker = taker.unwrap_or_default();
    let text = format!(
        "Who answers for you has agreed to a swap of fish that you offer: pack them for {taker}, as parcel {parcel}."
    );
    let fact = format!("swap {} for the ward", row.id);
    messages::tell(w, Line { account: ward.0, fact: &fact, text: &text, href: Some("/notices".into()) }).await
}

/// What was asked for by notice, with the stocks that those offer; whoever is under age and offers it is added to `wards`.
async fn offered(
    ctx: &Ctx,
    account: AccountId,
    rooms: &mut Rooms<'_>,
    rows: &[swap_rows::Model],
    wards: &mut Vec<AccountId>,
) -> Result<Vec<swap_rows::Model>> {
    let mut all = Vec::new();
    for row in rows.iter().filter(|row| row.asked) {
        let (mut row, mut owner) = (row.clone(), account);
        if let Some(notice) = row.notice
            && let Some(notice) = notice_store::notice(&ctx.db.conn, notice).await?
        {
            (row.room, row.stock) = (notice.room, notice.stock);
            let author = AccountId(notice.author);
            if author != account && answered_by(&ctx.db.conn, author).await? == account {
                owner = author;
                if !wards.contains(&author) {
                    wards.push(author);
                }
            }
        }
        let Some(at) = place_of(&row) else {
            let why = "What was asked for is offered no more: say which of your stocks you would give.";
            return Err(invalid(vec![("give", why.into())]));
        };
        if let Some(not_now) = rooms.not_now(owner, at).await? {
            return Err(not_now.problem("/give"));
        }
        all.push(row);
    }
    Ok(all)
}
