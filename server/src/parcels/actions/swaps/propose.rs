//! Proposing a swap. Of the other's fish only what they offer by a notice can be named, or else nobody's room would be
//! safe from guessing.

use tarn_domain::parcels::{ANSWER_DAYS, SwapAct, SwapState, after};
use tarn_domain::rooms::Spread;
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::{MOST_ROWS, check_name, check_numbers, check_words, name_of, side, state_at, tell};
use crate::accounts::actions::age_of;
use crate::accounts::refusals::BY_GUARDIAN;
use crate::entities::{swap_rows, swaps::Model, threads};
use crate::parcels::actions::may_leave::{Rooms, Where};
use crate::parcels::actions::notices::{self, DAY_MS};
use crate::parcels::actions::threads::{answered_by, open, other};
use crate::parcels::refusals::{invalid, swap_told};
use crate::parcels::store::{notices as notice_store, swaps as store, threads as thread_store};
use crate::platform::auth::SignedIn;
use crate::platform::errors::{CONFLICT, NOT_FOUND, too_many_today};
use crate::platform::{Ctx, Problem, Result, Write, write};
use crate::rooms;

/// How many an account proposes in a day at most.
const MOST_A_DAY: u64 = 20;

/// Whom it is proposed to.
pub enum To {
    /// Somebody of one of the proposer's clubs, by login name.
    Login(String),
    /// The other one of a thread.
    Thread(Uuid),
    /// Who proposed this one, which is thereby answered otherwise.
    Answers(Uuid),
}

/// Fish that somebody would give.
pub struct Given {
    /// Their stock.
    pub at: Where,
    /// How many.
    pub numbers: Spread,
    /// The species, where the records don't say it.
    pub species: Option<String>,
    /// The form, where the records don't say it.
    pub form: Option<String>,
}

/// Fish that are asked for.
pub struct Asked {
    /// The notice by which the other offers them.
    pub notice: Uuid,
    /// How many.
    pub numbers: Spread,
}

/// A swap to propose.
pub struct NewSwap {
    /// Its id, made by the caller: the same again is the same proposal.
    pub id: Uuid,
    /// To whom.
    pub to: To,
    /// What the proposer would give.
    pub give: Vec<Given>,
    /// The same in words, or more about it.
    pub give_words: Option<String>,
    /// What is asked for.
    pub ask: Vec<Asked>,
    /// The same in words, or what else.
    pub ask_words: Option<String>,
}

/// Proposes it; whom it is proposed to is told.
///
/// # Errors
/// `invalid`, `by-guardian`, `not-found` (person, thread, swap, notice, stock), `quarantine-running`, `swap-over`,
/// `swap-other-side`, `too-many-today`, `conflict`.
pub async fn propose(ctx: &Ctx, who: &SignedIn, new: NewSwap) -> Result<Model> {
    let account = AccountId(who.account);
    sound(&new)?;
    if !age_of(ctx, who.account).await?.may_deal_with_others() {
        return Err(Problem::new(&BY_GUARDIAN));
    }
    let (to, thread) = whom(ctx, account, &new.to).await?;
    let mut rows = given(ctx, account, new.id, &new.give, false, "/give").await?;
    rows.extend(asked(ctx, account, to, &new).await?);
    write(ctx, &who.actor(), async |w| {
        if let Some(there) = store::lock(w.tx(), new.id).await? {
            return if there.proposer == account.0 { Ok(there) } else { Err(Problem::new(&CONFLICT)) };
        }
        if store::proposed_since(w.tx(), account, w.now - DAY_MS).await? >= MOST_A_DAY {
            return Err(too_many_today("You have proposed 20 swaps in 24 hours"));
        }
        let answers = if let To::Answers(answered) = new.to { Some(answered) } else { None };
        if let Some(answered) = answers {
            answer(w, account, answered, new.id).await?;
        }
        let thread = match &thread {
            Some(thread) => thread.id,
            None => open(w, to, account).await?.id,
        };
        let row = Model {
            id: new.id,
            thread,
            proposer: account.0,
            other: to.0,
            answers,
            answered_by: None,
            give_words: new.give_words.clone(),
            ask_words: new.ask_words.clone(),
            state: SwapState::Proposed.as_str().into(),
            give_parcel: None,
            ask_parcel: None,
            made_ms: w.now,
            changed_ms: w.now,
            ends_ms: w.now + ANSWER_DAYS * DAY_MS,
        };
        store::insert(w.tx(), row.clone(), rows.clone()).await?;
        let name = name_of(w, account).await?;
        let words = match answers {
            Some(_) => format!("{name} proposes otherwise: a new swap stands in place of the one before."),
            None => {
                format!("{name} proposes a swap to you. It is over in {ANSWER_DAYS} days without an answer.")
            }
        };
        tell(w, row.id, to, "proposed", &words).await?;
        w.audit("parcels", format!("swap {} proposed to {to}", row.id));
        Ok(row)
    })
    .await
}

fn sound(new: &NewSwap) -> Result<()> {
    check_words("give_words", new.give_words.as_deref())?;
    check_words("ask_words", new.ask_words.as_deref())?;
    if new.give.is_empty() && new.give_words.is_none() && new.ask.is_empty() && new.ask_words.is_none() {
        return Err(invalid(vec![("give", "Say what you would give, or what you ask for.".into())]));
    }
    if new.give.len() > MOST_ROWS || new.ask.len() > MOST_ROWS {
        return Err(invalid(vec![("give", format!("At most {MOST_ROWS} rows a side."))]));
    }
    for row in &new.ask {
        check_numbers("ask", &row.numbers)?;
    }
    Ok(())
}

/// Whom it goes to, and the thread it comes out of.
async fn whom(ctx: &Ctx, account: AccountId, to: &To) -> Result<(AccountId, Option<threads::Model>)> {
    let conn = &ctx.db.conn;
    let thread_of = async |id: Uuid| {
        let nothing =
            || Problem::new(&NOT_FOUND).detail("There is no thread with this id, or none of yours.");
        let thread = thread_store::thread(conn, id).await?.ok_or_else(nothing)?;
        Ok::<_, Problem>((other(&thread, account).ok_or_else(nothing)?, Some(thread)))
    };
    match to {
        To::Thread(id) => thread_of(*id).await,
        To::Answers(id) => {
            let nothing =
                || Problem::new(&NOT_FOUND).detail("There is no swap with this id, or none of yours.");
            let row = store::swap(conn, *id).await?.ok_or_else(nothing)?;
            after(state_at(&row, ctx.clock.now_ms()), SwapAct::Decline, side(&row, account)?, false)
                .map_err(swap_told)?;
            thread_of(row.thread).await
        }
        To::Login(login) => {
            // Whoever shares no club with the caller is not known to them, whatever the name.
            let why = "Nobody of your clubs signs in with this name.";
            let nothing = || Problem::new(&NOT_FOUND).detail(why).at("/to", why);
            let found = rooms::store::account_of_login(conn, login).await?.ok_or_else(nothing)?;
            let found = AccountId(found.id);
            let theirs = notice_store::clubs_of(conn, found).await?;
            let mine = notice_store::clubs_of(conn, account).await?;
            if found == account || !mine.iter().any(|club| theirs.contains(club)) {
                return Err(nothing());
            }
            // whoever is under age swaps by way of their guardian
            let found = answered_by(conn, found).await?;
            if found == account { Err(nothing()) } else { Ok((found, None)) }
        }
    }
}

/// The rows of what an account gives: stocks of its own that may leave now.
pub(super) async fn given(
    ctx: &Ctx,
    account: AccountId,
    swap: Uuid,
    give: &[Given],
    is_asked: bool,
    field: &str,
) -> Result<Vec<swap_rows::Model>> {
    let mut rooms = Rooms::new(ctx);
    let mut rows = Vec::with_capacity(give.len());
    for (row, ordinal) in give.iter().zip(0..) {
        check_numbers("give", &row.numbers)?;
        check_name("give", row.species.as_deref())?;
        check_name("give", row.form.as_deref())?;
        if let Some(not_now) = rooms.not_now(account, row.at).await? {
            return Err(not_now.problem(field));
        }
        let known = rooms.stock(account, row.at).await?;
        let said = |typed: &Option<String>, known: Option<String>| {
            typed.clone().or(known).map(|text| text.trim().to_owned()).filter(|text| !text.is_empty())
        };
        let species = said(&row.species, known.as_ref().and_then(|known| known.species.clone()));
        let species = species.ok_or_else(|| {
            invalid(vec![(
                "give",
                "The records don\u{2019}t say which species this stock is: name it.".into(),
            )])
        })?;
        rows.push(swap_rows::Model {
            swap,
            ordinal: if is_asked { 100 + ordinal } else { ordinal },
            asked: is_asked,
            room: Some(row.at.0.0),
            stock: Some(row.at.1.0),
            notice: None,
            species,
            form: said(&row.form, known.and_then(|known| known.form)),
            males: row.numbers.males,
            females: row.numbers.females,
            unsexed: row.numbers.unsexed,
            eggs: row.numbers.eggs,
        });
    }
    Ok(rows)
}

/// The rows of what is asked for: what the other offers by notices that the proposer may read.
async fn asked(ctx: &Ctx, account: AccountId, to: AccountId, new: &NewSwap) -> Result<Vec<swap_rows::Model>> {
    let mut rows = Vec::with_capacity(new.ask.len());
    for (row, ordinal) in new.ask.iter().zip(100..) {
        let look = notices::read(ctx, account, row.notice).await?;
        let answers = answered_by(&ctx.db.conn, AccountId(look.row.author)).await?;
        if answers != to || look.row.stock.is_none() || !look.stands() {
            return Err(Problem::new(&NOT_FOUND).detail("They offer nothing by this notice now."));
        }
        rows.push(swap_rows::Model {
            swap: new.id,
            ordinal,
            asked: true,
            room: None,
            stock: None,
            notice: Some(row.notice),
            species: look.row.species,
            form: look.row.form,
            males: row.numbers.males,
            females: row.numbers.females,
            unsexed: row.numbers.unsexed,
            eggs: row.numbers.eggs,
        });
    }
    Ok(rows)
}

/// The proposal that is answered by another one is declined.
async fn answer(w: &Write, account: AccountId, answered: Uuid, by: Uuid) -> Result<()> {
    let mut row = store::lock(w.tx(), answered).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let side = side(&row, account)?;
    let state = after(state_at(&row, w.now), SwapAct::Decline, side, false).map_err(swap_told)?;
    state.as_str().clone_into(&mut row.state);
    row.answered_by = Some(by);
    row.changed_ms = w.now;
    store::save(w.tx(), row).await
}
