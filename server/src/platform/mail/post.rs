//! Hands letters to the mail host, or to a folder. Runs beside everything else: no request waits for it.

use std::time::{Duration, UNIX_EPOCH};

use lettre::message::header::{ContentType, Header, HeaderName, HeaderValue};
use lettre::message::{Mailbox, Message};
use lettre::{Address, AsyncTransport};
use tokio::sync::watch;

use super::outbox;
use super::settings::Transport;
use crate::entities::mail_outbox::Model;
use crate::platform::{Ctx, Result};

/// How often the outbox is looked at.
const SWEEP: Duration = Duration::from_secs(5);

/// What sends mail.
pub struct Post {
    transport: Transport,
    from: Mailbox,
}

/// What came of sending what waits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Round {
    /// The host took so many.
    pub sent: usize,
    /// So many are tried again later.
    pub later: usize,
    /// So many will not be tried again.
    pub given_up: usize,
}

/// Why a letter did not go.
struct Failure {
    why: String,
    for_good: bool,
}

impl Post {
    pub(super) fn new(transport: Transport, from: Mailbox) -> Self {
        Self { transport, from }
    }

    async fn send(&self, letter: &Model) -> std::result::Result<(), Failure> {
        let message = self.message(letter).map_err(|why| Failure { why, for_good: true })?;
        match &self.transport {
            Transport::Host(host) => host
                .send(message)
                .await
                .map(drop)
                .map_err(|err| Failure { for_good: err.is_permanent(), why: err.to_string() }),
            Transport::Folder(folder) => folder
                .send(message)
                .await
                .map(drop)
                .map_err(|err| Failure { for_good: false, why: err.to_string() }),
        }
    }

    /// The letter with its headers. The `Message-ID` is the letter's own, so that one that is sent twice, because a
    /// process died in between, is known as the same.
    fn message(&self, letter: &Model) -> std::result::Result<Message, String> {
        let to: Address = letter.recipient.parse().map_err(|_| "the address is no mail address")?;
        let made = UNIX_EPOCH + Duration::from_millis(letter.made_ms.unsigned_abs());
        Message::builder()
            .from(self.from.clone())
            .to(Mailbox::new(None, to))
            .subject(&letter.subject)
            .date(made)
            .message_id(Some(format!("<{}@{}>", letter.id, self.from.email.domain())))
            .header(AutoSubmitted)
            .header(ContentType::TEXT_PLAIN)
            .body(letter.body.clone())
            .map_err(|err| err.to_string())
    }
}

/// Nobody's holiday note answers a machine (RFC 3834).
#[derive(Clone)]
struct AutoSubmitted;

impl Header for AutoSubmitted {
    fn name() -> HeaderName {
        HeaderName::new_from_ascii_str("Auto-Submitted")
    }

    fn parse(_: &str) -> std::result::Result<Self, Box<dyn std::error::Error + Send + Sync>> {
        Ok(Self)
    }

    fn display(&self) -> HeaderValue {
        HeaderValue::new(Self::name(), "auto-generated".to_owned())
    }
}

/// Sends mail until `stop` says so; returns at once when there is nothing to send it with.
pub async fn run(ctx: Ctx, mut stop: watch::Receiver<bool>) {
    if ctx.post.is_none() {
        return;
    }
    if let Err(problem) = outbox::forget_old(&ctx).await {
        tracing::warn!(%problem, "old mail is still there");
    }
    loop {
        // A host that does not answer holds up nobody's stop. What it had taken by then may come twice, as the same.
        let sent = tokio::select! {
            sent = send_waiting(&ctx) => sent,
            _ = stop.changed() => return,
        };
        match sent {
            Ok(round) if round != Round::default() => tracing::info!(?round, "mail"),
            Ok(_) => {}
            Err(problem) => tracing::warn!(%problem, "the outbox could not be read"),
        }
        tokio::select! {
            () = tokio::time::sleep(SWEEP) => {}
            _ = stop.changed() => return,
        }
    }
}

/// Sends everything that may be tried now.
pub async fn send_waiting(ctx: &Ctx) -> Result<Round> {
    let mut round = Round::default();
    let Some(post) = &ctx.post else { return Ok(round) };
    loop {
        let taken = outbox::take(ctx).await?;
        if taken.is_empty() {
            return Ok(round);
        }
        for letter in taken {
            match post.send(&letter).await {
                Ok(()) => {
                    outbox::sent(ctx, letter.id).await?;
                    round.sent += 1;
                }
                Err(failure) => {
                    // No address in the log: the row has what there is to know.
                    tracing::warn!(letter = %letter.id, for_good = failure.for_good, "a letter was not taken");
                    let again = outbox::failed(ctx, &letter, &failure.why, failure.for_good).await?;
                    *(if again { &mut round.later } else { &mut round.given_up }) += 1;
                }
            }
        }
    }
}
