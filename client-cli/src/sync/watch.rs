//! A sync that stays: it syncs when the server says that there is something, when somebody wrote here, and when a
//! connection that was lost is due again. The lock is held only while it syncs, so other shells sync in between.

use std::collections::HashSet;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::thread;
use std::time::{Duration, Instant};

use tarn_domain::streams::StreamId;

use super::{Report, all, session};
use crate::failure::{Exit, Failure, Outcome};
use crate::interrupt;
use crate::remote::{Event, Following};
use crate::store::{HistoryLine, StreamRow};
use crate::tarn::Tarn;

/// How often it looks whether somebody wrote here.
const LOOK: Duration = Duration::from_secs(1);
/// Between attempts to reach the server: at first, and at most.
const FIRST_PAUSE: Duration = Duration::from_secs(1);
const LONGEST_PAUSE: Duration = Duration::from_secs(60);
/// Without any news: for rooms that others made for this account, and as a net under everything else.
const NOW_AND_THEN: Duration = Duration::from_secs(600);
/// Events that wait to be looked at; more wait at the server.
const EVENTS: usize = 64;
/// So many entries that came are told one by one.
const TOLD: usize = 12;

/// What came into a room.
#[derive(Debug)]
pub struct Came {
    /// The room.
    pub room: StreamRow,
    /// The first of what came.
    pub lines: Vec<HistoryLine>,
    /// How many there are beyond these.
    pub more: u64,
}

enum Heard {
    Event(StreamId, Event),
    Lost(StreamId),
    Stop,
}

/// Syncs until Ctrl-C; `tell` is called after each sync, the first included.
///
/// # Errors
/// No login, a full disk, another account in use: what time does not put right.
pub fn watch(tarn: &mut Tarn, mut tell: impl FnMut(&mut Tarn, &Report, &[Came]) -> Outcome) -> Outcome {
    let (send, heard) = sync_channel(EVENTS);
    let stop = send.clone();
    interrupt::hear(move || drop(stop.send(Heard::Stop)))?;
    let mut watch =
        Watch { heard, send, followed: HashSet::new(), pause: FIRST_PAUSE, offline: false, told: false };
    loop {
        still_in_use(tarn)?;
        let (newest, version) = (tarn.store.newest()?, tarn.store.data_version()?);
        match all(tarn) {
            Ok(report) => {
                if std::mem::take(&mut watch.offline) {
                    tarn.out.say("The server answers again.");
                }
                tell(tarn, &report, &came(tarn, newest)?)?;
                watch.follow(tarn)?;
                if !std::mem::replace(&mut watch.told, true) {
                    tarn.out.say("Watching; Ctrl-C ends it.");
                }
            }
            Err(failure) if failure.exit == Exit::NeedsNetwork => {
                if !std::mem::replace(&mut watch.offline, true) {
                    tarn.out.say(&format!("{failure}; it is tried again until it does."));
                }
            }
            Err(failure) => return Err(failure),
        }
        if !watch.wait(tarn, version)? {
            return Ok(());
        }
    }
}

struct Watch {
    heard: Receiver<Heard>,
    send: SyncSender<Heard>,
    followed: HashSet<StreamId>,
    pause: Duration,
    offline: bool,
    told: bool,
}

impl Watch {
    /// Follows every stream that is not followed yet. One that can't be is tried again after the pause.
    fn follow(&mut self, tarn: &Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        for stream in tarn.store.streams()? {
            let Some(epoch) = stream.epoch.filter(|_| !self.followed.contains(&stream.id)) else { continue };
            let mut path = format!("streams/{}/live?epoch={epoch}&after={}", stream.id, stream.after);
            if stream.after > 0 {
                path.push_str(&format!("&chain={}", stream.chain.hex()));
            }
            if let Ok(following) = remote.follow(&path) {
                self.followed.insert(stream.id);
                let send = self.send.clone();
                thread::spawn(move || pass_on(following, stream.id, &send));
            }
        }
        Ok(())
    }

    /// Waits until there is a reason to sync; false if it is to end.
    fn wait(&mut self, tarn: &Tarn, version: i64) -> Outcome<bool> {
        let begun = Instant::now();
        let (mut version, mut due) = (version, NOW_AND_THEN);
        let streams = tarn.store.streams()?;
        if self.offline || streams.iter().any(|s| s.epoch.is_some() && !self.followed.contains(&s.id)) {
            due = self.next_pause(&streams);
        }
        loop {
            let left = due.saturating_sub(begun.elapsed());
            match self.heard.recv_timeout(left.min(LOOK)) {
                Ok(Heard::Stop) | Err(RecvTimeoutError::Disconnected) => return Ok(false),
                Ok(Heard::Event(stream, event)) => match event {
                    Event::Op(seq) => {
                        self.pause = FIRST_PAUSE;
                        // what this device pushed comes back, and was pulled already
                        if seq > tarn.store.stream(stream)?.after {
                            return Ok(true);
                        }
                    }
                    Event::Alive => self.pause = FIRST_PAUSE,
                    // the sync says why, or puts it right
                    Event::End(_) => drop(self.followed.remove(&stream)),
                },
                Ok(Heard::Lost(stream)) => {
                    self.followed.remove(&stream);
                    due = due.min(begun.elapsed() + self.next_pause(&streams));
                }
                Err(RecvTimeoutError::Timeout) => {
                    let now = tarn.store.data_version()?;
                    if std::mem::replace(&mut version, now) != now && is_anything_to_push(tarn)? {
                        return Ok(true);
                    }
                    if begun.elapsed() >= due {
                        return Ok(true);
                    }
                }
            }
        }
    }

    /// The present pause, a little longer for one device than for another, so that not all come at once when a server
    /// is back; the next is twice as long.
    fn next_pause(&mut self, streams: &[StreamRow]) -> Duration {
        let pause = self.pause;
        self.pause = (pause * 2).min(LONGEST_PAUSE);
        let of_device = streams.first().map_or(0, |s| u32::from(s.device.0.as_bytes()[15]));
        pause + pause * of_device / 512
    }
}

fn pass_on(mut following: Following, stream: StreamId, send: &SyncSender<Heard>) {
    while let Some(event) = following.next_event() {
        if send.send(Heard::Event(stream, event)).is_err() {
            return;
        }
    }
    let _ = send.send(Heard::Lost(stream));
}

/// Records of another account are not this session's to push.
fn still_in_use(tarn: &Tarn) -> Outcome {
    if tarn.folder.records(&tarn.folder.in_use()) == tarn.store.path() {
        return Ok(());
    }
    Err(Failure::refused("another account's records are in use here now; this watch ends"))
}

fn is_anything_to_push(tarn: &Tarn) -> Outcome<bool> {
    for stream in tarn.store.streams()? {
        if stream.rights == "write" && !tarn.store.outgoing(&stream, 1)?.is_empty() {
            return Ok(true);
        }
    }
    Ok(false)
}

fn came(tarn: &Tarn, newest: i64) -> Outcome<Vec<Came>> {
    let mut all = Vec::new();
    for room in tarn.store.streams()? {
        let (lines, count) = tarn.store.came_since(&room, newest, TOLD)?;
        if count > 0 {
            all.push(Came { room, more: count - lines.len() as u64, lines });
        }
    }
    Ok(all)
}
