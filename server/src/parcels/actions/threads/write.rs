//! Writing a line; the first one begins the thread.

use tarn_domain::parcels::{MOST_TEXT, is_prose};
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::{answered_by, other};
use crate::accounts::actions::age_of;
use crate::accounts::refusals::BY_GUARDIAN;
use crate::entities::thread_lines;
use crate::entities::threads::Model;
use crate::parcels::actions::notices::{self, DAY_MS, title_of};
use crate::parcels::refusals::{OWN_NOTICE, invalid};
use crate::parcels::store::{notices as notice_store, threads as store};
use crate::platform::auth::SignedIn;
use crate::platform::errors::{CONFLICT, NOT_FOUND, too_many_today};
use crate::platform::messages::{self, Line};
use crate::platform::{Ctx, Problem, Result, Write, write};
use crate::rooms;

/// How many threads an account begins in a day at most.
const MOST_BEGUN: u64 = 20;
/// How many lines it writes.
const MOST_LINES: u64 = 200;

/// Replies to a notice; the thread.
///
/// # Errors
/// `not-found` for who may not read the notice, `own-notice`, `by-guardian`, `invalid`, `too-many-today`, `conflict`.
pub async fn reply(ctx: &Ctx, who: &SignedIn, notice: Uuid, line: Uuid, text: &str) -> Result<Model> {
    let account = AccountId(who.account);
    let look = notices::read(ctx, account, notice).await?;
    // who is under age is answered by way of their guardian, and answers nobody
    let host = answered_by(&ctx.db.conn, AccountId(look.row.author)).await?;
    if look.mine || host == account {
        return Err(Problem::new(&OWN_NOTICE));
    }
    if !age_of(ctx, who.account).await?.may_deal_with_others() {
        return Err(Problem::new(&BY_GUARDIAN));
    }
    let text = sound(text)?;
    write(ctx, &who.actor(), async |w| {
        // One reply at a time, so that two windows begin one thread.
        let row = notice_store::lock(w.tx(), notice).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
        let thread = match store::about(w.tx(), notice, account).await? {
            Some(thread) => thread,
            None => {
                let about = Some(title_of(&row));
                begin(w, Some(notice), host, account, about).await?
            }
        };
        add(w, &thread, account, line, &text).await?;
        Ok(thread)
    })
    .await
}

/// Writes a line in a thread.
///
/// # Errors
/// `not-found` for who is no party, `invalid`, `too-many-today`, `conflict`.
pub async fn say(ctx: &Ctx, who: &SignedIn, thread: Uuid, line: Uuid, text: &str) -> Result<Model> {
    let account = AccountId(who.account);
    let party = |row: Option<Model>| {
        row.filter(|row| other(row, account).is_some()).ok_or_else(|| Problem::new(&NOT_FOUND))
    };
    party(store::thread(&ctx.db.conn, thread).await?)?;
    let text = sound(text)?;
    write(ctx, &who.actor(), async |w| {
        let row = party(store::lock(w.tx(), thread).await?)?;
        add(w, &row, account, line, &text).await?;
        Ok(row)
    })
    .await
}

/// The thread of two members that is about no notice; begun if there is none.
pub(in crate::parcels) async fn open(w: &Write, host: AccountId, guest: AccountId) -> Result<Model> {
    match store::between(w.tx(), host, guest).await? {
        Some(thread) => Ok(thread),
        None => begin(w, None, host, guest, None).await,
    }
}

fn sound(text: &str) -> Result<String> {
    if !is_prose(text, MOST_TEXT) {
        return Err(invalid(vec![("text", "Write 1 to 2,000 signs.".into())]));
    }
    Ok(text.trim().replace("\r\n", "\n"))
}

async fn begin(
    w: &Write,
    notice: Option<Uuid>,
    host: AccountId,
    guest: AccountId,
    about: Option<String>,
) -> Result<Model> {
    if store::begun_since(w.tx(), guest, w.now - DAY_MS).await? >= MOST_BEGUN {
        return Err(too_many_today("You have begun 20 threads in 24 hours"));
    }
    let id = w.ctx().ids.new_id(w.now);
    let row = Model { id, notice, host: host.0, guest: guest.0, about, made_ms: w.now, last_ms: w.now };
    store::insert(w.tx(), row.clone()).await?;
    Ok(row)
}

/// Adds a line and tells the other; the same line again is the same line.
async fn add(w: &Write, thread: &Model, author: AccountId, id: Uuid, text: &str) -> Result<()> {
    if let Some(there) = store::line(w.tx(), id).await? {
        let same = there.thread == thread.id && there.author == author.0;
        return if same { Ok(()) } else { Err(Problem::new(&CONFLICT)) };
    }
    if store::written_since(w.tx(), author, w.now - DAY_MS).await? >= MOST_LINES {
        return Err(too_many_today("You have written 200 lines in 24 hours"));
    }
    let row = thread_lines::Model {
        id,
        thread: thread.id,
        author: author.0,
        text: text.to_owned(),
        made_ms: w.now,
    };
    store::insert_line(w.tx(), row).await?;
    let Some(to) = other(thread, author) else { return Ok(()) };
    // Several lines in a row are told once a day, until the other has answered.
    let turn = store::last_by(w.tx(), thread.id, to).await?.unwrap_or_default();
    let fact = format!("parcels:thread:{}:{turn}:{}", thread.id, w.now.div_euclid(DAY_MS));
    let name = rooms::store::people(w.tx(), [author]).await?.remove(&author).unwrap_or_default();
    let words = match &thread.about {
        Some(about) => format!("{name} wrote to you about a notice ({about})."),
        None => format!("{name} wrote to you about a swap."),
    };
    let href = Some(format!("/threads/{}", thread.id));
    messages::tell(w, Line { account: to.0, fact: &fact, text: &words, href }).await
}
