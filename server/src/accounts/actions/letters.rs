//! Letters with a link: asked for by anybody and written in a job, so that the answer tells nobody whether an account is
//! there; and links looked at and used. Each is good once, for its time, for one purpose.

use std::net::IpAddr;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde_json::{Value, json};
use tarn_domain::accounts::{ASKED_LINK_GOOD_FOR_MS, LETTERS_COUNT_MS, may_write_again};
use uuid::Uuid;

use super::super::{refusals, store};
use super::throttle::Throttle;
use super::wrong_secret;
use crate::entities::mail_links;
use crate::platform::{Actor, Ctx, Job, Problem, Result, Write, write};

/// The most addresses that one account has letters sent to in a day.
const MOST_IN_A_DAY: u64 = 8;

/// What a link is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Purpose {
    /// To show that an address is one's own.
    Prove,
    /// To take another password.
    Reset,
    /// To make an account.
    SignUp,
}

impl Purpose {
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Prove => "prove",
            Self::Reset => "reset",
            Self::SignUp => "sign-up",
        }
    }

    fn good_for_ms(self) -> i64 {
        match self {
            Self::Prove => 2 * 86_400_000,
            Self::Reset => ASKED_LINK_GOOD_FOR_MS,
            Self::SignUp => 86_400_000,
        }
    }
}

/// Whether a letter for this purpose may go to an address now, whoever has it.
pub(super) async fn may_write(w: &Write, purpose: Purpose, email: &str) -> Result<bool> {
    let made = store::letters_to(w.tx(), (purpose.word(), email), w.now - LETTERS_COUNT_MS).await?;
    let made: Vec<i64> = made.iter().map(|link| link.made_ms).collect();
    Ok(may_write_again(&made, w.now))
}

/// Whether an account has had letters sent to few enough other addresses.
pub(super) async fn may_have_written(
    w: &Write,
    purpose: Purpose,
    (account, email): (Uuid, &str),
) -> Result<bool> {
    let since = w.now - LETTERS_COUNT_MS;
    Ok(store::letters_by(w.tx(), account, (purpose.word(), email), since).await? < MOST_IN_A_DAY)
}

/// A new link for a letter: its token, which is told once.
pub(super) async fn new_link(
    w: &Write,
    purpose: Purpose,
    (account, email): (Option<Uuid>, &str),
) -> Result<String> {
    let token = store::secret_text(&w.ctx().ids.bytes());
    let row = mail_links::Model {
        hash: store::secret_hash(&token),
        purpose: purpose.word().to_owned(),
        account,
        email: email.to_owned(),
        made_ms: w.now,
        expires_ms: w.now + purpose.good_for_ms(),
    };
    store::insert_link(w.tx(), row).await?;
    Ok(token)
}

/// The link that a token stands for, while it is good; nothing is used by looking.
///
/// # Errors
/// `link-over`, and `too-many-tries` for who tries many.
pub(super) async fn good_link(
    ctx: &Ctx,
    purpose: Purpose,
    token: &str,
    address: IpAddr,
) -> Result<mail_links::Model> {
    let row = store::link(&ctx.db.conn, &store::secret_hash(token)).await?;
    let good = |row: &mail_links::Model| row.purpose == purpose.word() && row.expires_ms > ctx.clock.now_ms();
    match row.filter(good) {
        Some(row) => Ok(row),
        None => {
            wrong_secret(ctx, address)?;
            Err(over())
        }
    }
}

/// The link was used, or its time is over.
pub(super) fn over() -> Problem {
    Problem::new(&refusals::LINK_OVER)
}

/// Uses a link.
///
/// # Errors
/// `link-over` if somebody else did.
pub(super) async fn take(w: &Write, link: &mail_links::Model) -> Result<()> {
    if store::take_link(w.tx(), &link.hash, w.now).await? { Ok(()) } else { Err(over()) }
}

/// Somebody asks for a letter: whatever they typed, the same is done here, and the job does the rest.
///
/// # Errors
/// `no-mail`, `too-many-tries`.
pub(super) async fn ask(ctx: &Ctx, kind: &'static str, typed: &str, address: IpAddr) -> Result<()> {
    if ctx.post.is_none() {
        return Err(Problem::new(&refusals::NO_MAIL));
    }
    let typed: String = typed.trim().to_lowercase().chars().take(254).collect();
    let key = format!("{kind}:{typed}");
    ctx.part::<Throttle>()
        .ask_letter(&key, address, ctx.clock.now_ms())
        .map_err(refusals::too_many_letters)?;
    write(ctx, &Actor::Server, async |w| {
        let hash = store::secret_hash(&store::secret_text(&w.ctx().ids.bytes()));
        // what was typed is no part of the job, which is kept for a while
        let payload = json!({"asked": URL_SAFE_NO_PAD.encode(&hash)});
        let row = mail_links::Model {
            hash,
            purpose: kind.to_owned(),
            account: None,
            email: typed.clone(),
            made_ms: w.now,
            expires_ms: w.now + ASKED_LINK_GOOD_FOR_MS,
        };
        store::insert_link(w.tx(), row).await?;
        w.enqueue(Job::new(kind, payload));
        Ok(())
    })
    .await
}

/// What was typed by who asked for a letter; none if it was answered already.
pub(super) async fn asked(w: &Write, payload: &Value) -> Result<Option<String>> {
    let hash = payload.get("asked").and_then(Value::as_str);
    let Some(hash) = hash.and_then(|text| URL_SAFE_NO_PAD.decode(text).ok()) else { return Ok(None) };
    let Some(row) = store::link(w.tx(), &hash).await? else { return Ok(None) };
    Ok(store::take_link(w.tx(), &hash, w.now).await?.then_some(row.email))
}
