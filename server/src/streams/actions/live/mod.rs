//! A stream as it grows: server-sent events, one an op, as a pull would give them, with the same answers to a caller whose
//! history is another one or who may not read.
//!
//! While there is nothing to send it waits for [`Heads`] and holds no connection and no room. It reads on only when the
//! reader took what it was given, a bounded number of ops at a time, so a slow reader costs no memory.

mod heads;
mod news;

use std::fmt::Write;
use std::time::Duration;

use bytes::Bytes;
use tarn_domain::streams::{AccountId, StreamId};
use tokio::sync::watch;
use tokio::time::{Interval, MissedTickBehavior, interval};
use uuid::Uuid;

pub use heads::Heads;
pub use news::run;

use super::list::may;
use super::pull::{Page, Pull, page, write_op};
use crate::platform::auth::account_of_session;
use crate::platform::ending::Ending;
use crate::platform::errors::Problem;
use crate::platform::{Ctx, Result};
use crate::streams::actions::areas::Right;
use crate::streams::refusals::SERVER_ENDING;
use heads::Reader;

/// So many ops are read and given out at once.
const AT_ONCE: u64 = 200;
/// A reader that hears nothing for some multiple of this may take the connection for dead.
const KEEP_ALIVE: Duration = Duration::from_secs(15);
/// For how long a browser waits before it comes again by itself.
const COME_AGAIN_MS: u32 = 3_000;

/// One reader's event stream.
pub struct Live {
    ctx: Ctx,
    account: AccountId,
    session: Uuid,
    stream: StreamId,
    /// From where on it is read; moves with what is given out.
    ask: Pull,
    reader: Reader,
    ending: watch::Receiver<bool>,
    check: Interval,
    /// When a sign of life is due, whatever else happens.
    alive: Interval,
    /// What is given out next, if it is known already.
    ready: Option<Bytes>,
    /// Whether there may be ops that were not read yet.
    look: bool,
    over: bool,
}

/// Opens one: what a pull would refuse is refused, and the first ops are read.
///
/// # Errors
/// `not-found`, `session-ended`, `history-changed`, `too-many-live`, `server-ending`.
pub async fn open(ctx: &Ctx, account: AccountId, session: Uuid, stream: StreamId, ask: Pull) -> Result<Live> {
    may(ctx, account, stream, Right::Read).await?;
    let reader = ctx.part::<Heads>().join(account, stream, ctx.config.limits.live_per_account)?;
    let ending = ctx.part::<Ending>().listen();
    if *ending.borrow() {
        return Err(Problem::new(&SERVER_ENDING).retry_after(5));
    }
    let mut check = interval(Duration::from_secs(ctx.config.limits.live_check_s));
    check.set_missed_tick_behavior(MissedTickBehavior::Delay);
    // the first tick is at once
    check.tick().await;
    let mut alive = interval(KEEP_ALIVE);
    alive.set_missed_tick_behavior(MissedTickBehavior::Delay);
    alive.tick().await;
    let ask = Pull { limit: AT_ONCE, ..ask };
    let mut live = Live {
        ctx: ctx.clone(),
        account,
        session,
        stream,
        ask,
        reader,
        ending,
        check,
        alive,
        ready: None,
        look: true,
        over: false,
    };
    let first = live.read().await?.unwrap_or_default();
    live.ready = Some(format!("retry: {COME_AGAIN_MS}\n: open\n\n{first}").into());
    Ok(live)
}

impl Live {
    /// The next piece: events, or a sign of life; none when it is over.
    pub async fn next(&mut self) -> Option<Bytes> {
        if self.over {
            return None;
        }
        if let Some(ready) = self.ready.take() {
            return Some(ready);
        }
        loop {
            if *self.ending.borrow() {
                return Some(self.end(&Problem::new(&SERVER_ENDING)));
            }
            match self.read().await {
                Err(problem) => return Some(self.end(&problem)),
                Ok(Some(events)) => return Some(events.into()),
                Ok(None) => {}
            }
            tokio::select! {
                biased;
                _ = self.ending.changed() => {}
                _ = self.reader.news.changed() => self.look = true,
                _ = self.check.tick() => self.look = true,
                _ = self.alive.tick() => return Some(Bytes::from_static(b": still here\n\n")),
            }
        }
    }

    /// The ops after the last that was given out, as events; none if there are none, or nobody said that there are.
    /// Asks anew whether the reader may read them.
    async fn read(&mut self) -> Result<Option<String>> {
        if !std::mem::take(&mut self.look) {
            return Ok(None);
        }
        // what comes from here on is news
        self.reader.news.mark_unchanged();
        account_of_session(&self.ctx.db.conn, self.session, self.ctx.clock.now_ms()).await?;
        let Page { row, ops, mut chain } = page(&self.ctx, self.account, self.stream, &self.ask).await?;
        let mut events = String::with_capacity(ops.iter().map(|(op, _)| op.text.len() + 300).sum());
        for (op, blanked) in &ops {
            chain = chain.then(op.op_text(), op.accepted);
            let _ = write!(events, "id: {}/{}\nevent: op\ndata: ", row.epoch, op.seq);
            write_op(&self.ctx, self.stream, op, blanked.as_ref(), &mut events);
            events.push_str("\n\n");
            self.ask.after = op.seq;
        }
        // a disk that is rolled back under it is seen by the chain
        self.ask.chain = Some(chain);
        self.look = self.ask.after < row.head;
        Ok((!ops.is_empty()).then_some(events))
    }

    /// The last event: why it ends, as the problem that a pull would be answered with.
    fn end(&mut self, why: &Problem) -> Bytes {
        self.over = true;
        format!("event: end\ndata: {}\n\n", why.to_value()).into()
    }
}
