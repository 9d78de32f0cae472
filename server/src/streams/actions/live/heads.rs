//! Who reads which stream as it grows, in this process; and which streams grew. Knows no database.

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tarn_domain::streams::{AccountId, StreamId};
use tokio::sync::{Notify, watch};

use crate::platform::errors::Problem;
use crate::streams::refusals::TOO_MANY_LIVE;

/// The open event streams of this process.
#[derive(Default)]
pub struct Heads {
    open: Mutex<Open>,
    grown: Mutex<HashSet<StreamId>>,
    /// Something grew here.
    pub(super) here: Notify,
}

#[derive(Default)]
struct Open {
    streams: HashMap<StreamId, (watch::Sender<()>, usize)>,
    accounts: HashMap<AccountId, usize>,
}

/// One open event stream. Dropped, it is closed.
pub(super) struct Reader {
    heads: Arc<Heads>,
    account: AccountId,
    stream: StreamId,
    /// Changes whenever there may be news; a hundred pieces of news are one change.
    pub(super) news: watch::Receiver<()>,
}

impl Heads {
    /// A stream grew here: its readers look, and other processes are told. Whoever grew it does not wait.
    pub fn grew(&self, stream: StreamId) {
        self.wake(stream);
        self.grown.lock().unwrap_or_else(PoisonError::into_inner).insert(stream);
        self.here.notify_one();
    }

    /// There may be news of a stream.
    pub(super) fn wake(&self, stream: StreamId) {
        if let Some((news, _)) = self.open().streams.get(&stream) {
            news.send_replace(());
        }
    }

    /// There may be news of every stream.
    pub(super) fn wake_all(&self) {
        self.open().streams.values().for_each(|(news, _)| news.send_replace(()));
    }

    /// The streams that somebody reads.
    pub(super) fn read(&self) -> Vec<StreamId> {
        self.open().streams.keys().copied().collect()
    }

    /// What grew here since this was asked last.
    pub(super) fn take_grown(&self) -> HashSet<StreamId> {
        std::mem::take(&mut *self.grown.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// One more reader of a stream.
    ///
    /// # Errors
    /// `too-many-live` if the account has as many already as it may have.
    pub(super) fn join(
        self: &Arc<Self>,
        account: AccountId,
        stream: StreamId,
        most: usize,
    ) -> Result<Reader, Problem> {
        let mut open = self.open();
        let mine = open.accounts.entry(account).or_default();
        if *mine >= most {
            let says = format!("{most} are open; that is the most.");
            return Err(Problem::new(&TOO_MANY_LIVE).detail(says).retry_after(30));
        }
        *mine += 1;
        let (news, readers) = open.streams.entry(stream).or_default();
        *readers += 1;
        let news = news.subscribe();
        drop(open);
        Ok(Reader { heads: self.clone(), account, stream, news })
    }

    fn open(&self) -> MutexGuard<'_, Open> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Reader {
    fn drop(&mut self) {
        let mut open = self.heads.open();
        if let Some((_, readers)) = open.streams.get_mut(&self.stream) {
            *readers -= 1;
            if *readers == 0 {
                open.streams.remove(&self.stream);
            }
        }
        if let Some(mine) = open.accounts.get_mut(&self.account) {
            *mine -= 1;
            if *mine == 0 {
                open.accounts.remove(&self.account);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

    #[test]
    fn an_account_has_only_so_many_and_what_is_closed_counts_no_more() {
        let heads = Arc::new(Heads::default());
        let (account, stream) = (AccountId(Uuid::from_u128(1)), StreamId(Uuid::from_u128(2)));
        let join = |account| heads.join(account, stream, 2);
        let (first, _second) = (join(account).ok(), join(account));
        assert_eq!(join(account).err().map(|no| no.kind().code), Some("too-many-live"));
        assert!(join(AccountId(Uuid::from_u128(3))).is_ok(), "another account has its own");
        drop(first);
        assert!(join(account).is_ok());
    }

    #[test]
    fn a_stream_that_nobody_reads_any_more_takes_no_room() {
        let heads = Arc::new(Heads::default());
        let stream = StreamId(Uuid::from_u128(2));
        let reader = heads.join(AccountId(Uuid::from_u128(1)), stream, 1).expect("the first");
        heads.grew(stream);
        heads.grew(stream);
        assert!(reader.news.has_changed().expect("it is open"));
        assert_eq!((heads.read(), heads.take_grown().len()), (vec![stream], 1));
        drop(reader);
        assert!(heads.read().is_empty() && heads.open().accounts.is_empty());
    }
}
