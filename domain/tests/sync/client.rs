//! The client's side: a local list of ops, each pending, waiting, answered, accepted or refused; and `sync`.

use std::collections::BTreeMap;
use std::rc::Rc;

use tarn_domain::catalogue::{Body, Op, op_text};
use tarn_domain::streams::{Acceptance, AccountId, At, Chain, Clock, DeviceId, EpochId, OpId};
use uuid::Uuid;

use crate::row::{Row, Standing};
use crate::rules::Rules;
use crate::server::Server;
use crate::wire::{Luck, Outcome, Pulled, Pushed, Wire};

/// One device.
pub struct Client {
    rules: Rules,
    /// Whose.
    pub account: AccountId,
    /// Which.
    pub device: DeviceId,
    /// Its wall clock is wrong by so many milliseconds.
    skew: i64,
    /// How it corrects its reading of the wall clock.
    correction: i64,
    clock: Clock,
    epoch: Option<EpochId>,
    after: u64,
    chain: Chain,
    written: u32,
    /// How often it had to mend clocks.
    pub mended: usize,
    /// Its ops.
    pub rows: BTreeMap<OpId, Row>,
    /// By whom and when each op had been accepted when this device first pulled it.
    pub first_seen: BTreeMap<OpId, Acceptance>,
    /// Pushes as they left it, for the wire to deliver again. (Not those refused for their clock: minutes later
    /// that clock would be good, while what was written after has been mended to lower ones. No rule is proof
    /// against a wire that is that slow.)
    pub sent: Vec<Vec<Wire>>,
}

impl Client {
    /// A device that never synced.
    pub fn new(rules: Rules, account: AccountId, device: DeviceId, skew: i64) -> Self {
        let (correction, after, written, mended) = (0, 0, 0, 0);
        let (clock, chain, epoch) = (Clock::START, Chain::EMPTY, None);
        let (rows, first_seen, sent) = (BTreeMap::new(), BTreeMap::new(), Vec::new());
        Self {
            rules,
            account,
            device,
            skew,
            correction,
            clock,
            epoch,
            after,
            chain,
            written,
            mended,
            rows,
            first_seen,
            sent,
        }
    }

    /// Writes an op; `back`: the keeper typed a date so many milliseconds ago.
    pub fn write(&mut self, body: Body, back: Option<i64>, now: i64) -> OpId {
        let wall = now + self.skew + self.correction;
        self.clock = self.clock.tick(wall);
        let typed = back.map(|ms| At::from_seconds((wall - ms).div_euclid(1000)));
        let at = typed.map_or(self.clock.at(), |at| at.min(self.clock.at()));
        self.written += 1;
        let id = self.id(self.written);
        let op = Op { id, device: self.device, clock: self.clock, at, body };
        let row = Row { wire: Wire::of(op), standing: Standing::Pending, typed: typed.is_some() };
        self.rows.insert(id, row);
        id
    }

    fn id(&self, n: u32) -> OpId {
        let device = self.device.0.as_u128() & 0xffff;
        OpId(Uuid::from_u128(0x0190_b000_0000_7000_8000_0000_0000_0000 | device << 32 | u128::from(n)))
    }

    /// The ops of its own view: all but what is refused or waits.
    pub fn view(&self) -> impl Iterator<Item = &Op> {
        let seen = |r: &&Row| !matches!(r.standing, Standing::Refused(_) | Standing::Waiting);
        self.rows.values().filter(seen).map(|r| &*r.wire.op)
    }

    fn pending(&self) -> Vec<OpId> {
        let mut all: Vec<_> = self
            .rows
            .values()
            .filter(|r| r.standing == Standing::Pending)
            .map(|r| (r.wire.op.clock, r.wire.op.device, r.wire.op.id))
            .collect();
        all.sort_unstable();
        all.into_iter().map(|(_, _, id)| id).collect()
    }

    /// Refused for good, or resting on what is: such a row stays here until its keeper mends or drops it.
    pub fn is_stuck(&self, id: OpId) -> bool {
        let Some(row) = self.rows.get(&id) else { return false };
        match row.standing {
            Standing::Refused(code) => code == "op-relied-on",
            Standing::Waiting => row.wire.op.body.links().withdraws.is_some_and(|entry| self.is_stuck(entry)),
            _ => false,
        }
    }

    /// Whether another sync would do nothing: it has all there is, and nothing of its own to push.
    pub fn is_done(&self, head: usize) -> bool {
        let rests =
            |(id, row): (&OpId, &Row)| matches!(row.standing, Standing::Accepted(_)) || self.is_stuck(*id);
        usize::try_from(self.after) == Ok(head) && self.rows.iter().all(rests)
    }

    fn row(&mut self, id: OpId) -> &mut Row {
        self.rows.get_mut(&id).expect("one of its own")
    }

    /// Pushes, then pulls; again where the history has changed meanwhile.
    pub fn sync(&mut self, server: &mut Server, batch: usize, luck: Luck, now: i64) {
        self.sent.clear();
        let epoch = server.register(self.account, self.device);
        self.epoch.get_or_insert(epoch);
        if self.push(server, batch, luck, now).is_none() {
            return;
        }
        for _ in 0..4 {
            if self.pull(server, batch, luck.cut) {
                return;
            }
            server.register(self.account, self.device);
            let calm = Luck { lost: false, ..luck };
            if self.push(server, batch, calm, now).is_none() {
                return;
            }
        }
    }

    /// None: the answer was lost.
    fn push(&mut self, server: &mut Server, batch: usize, luck: Luck, now: i64) -> Option<()> {
        loop {
            let ids: Vec<OpId> = self.pending().into_iter().take(batch).collect();
            if ids.is_empty() {
                return Some(());
            }
            let request: Vec<Wire> = ids.iter().map(|id| self.rows[id].wire.clone()).collect();
            let mut answer = server.push(self.account, &request, now);
            if luck.doubled {
                answer = server.push(self.account, &request, now);
            }
            if !matches!(answer, Pushed::Ahead { .. }) {
                self.sent.push(request);
            }
            if luck.lost {
                return None;
            }
            match answer {
                Pushed::Ahead { now: theirs, limit } => self.mend(theirs, limit, now),
                // Judged by the pull that follows.
                Pushed::Results(epoch, _) if self.rules.receipts && Some(epoch) != self.epoch => {
                    return Some(());
                }
                Pushed::Results(_, results) => {
                    for (id, outcome) in results {
                        self.hear(id, outcome);
                    }
                }
            }
        }
    }

    fn hear(&mut self, id: OpId, outcome: Outcome) {
        let pull_accepts = self.rules.pull_accepts;
        let has = |seq| if pull_accepts { Standing::Answered(seq) } else { Standing::Accepted(seq) };
        let row = self.row(id);
        match outcome {
            Outcome::Seq(seq) => row.standing = has(seq),
            Outcome::Taken(seq, theirs) => {
                let set_back = theirs.op.clock < row.wire.op.clock;
                row.wire = Wire { receipt: row.wire.receipt.take(), ..theirs };
                row.standing = has(seq);
                let clock = row.wire.op.clock;
                self.clock = if set_back { clock } else { self.clock.max(clock) };
            }
            Outcome::Refused("missing-reference") => row.standing = Standing::Waiting,
            Outcome::Refused(code) => row.standing = Standing::Refused(code),
        }
    }

    /// Gives the first op ahead, and all its own that come after it, clocks upward from the server's.
    fn mend(&mut self, theirs: Clock, limit: Clock, now: i64) {
        let own = |r: &Row| r.wire.op.device == self.device && r.wire.receipt.is_none();
        let pending = self.pending().into_iter().filter(|id| own(&self.rows[id]));
        let ahead: Vec<OpId> = pending.skip_while(|id| self.rows[id].wire.op.clock <= limit).collect();
        assert!(!ahead.is_empty(), "refused for a clock that is not ours to mend");
        let held = self.rows.iter().filter(|(id, _)| !ahead.contains(id)).map(|(_, r)| r.wire.op.clock);
        let held = held.max().filter(|_| self.rules.mends_upward);
        let mut clock = held.map_or(theirs, |held| held.max(theirs));
        for id in ahead {
            clock = clock.next();
            let row = self.row(id);
            let at = if row.typed { row.wire.op.at.min(clock.at()) } else { clock.at() };
            let op = Op { clock, at, ..(*row.wire.op).clone() };
            row.wire.text = op_text(&op).into();
            row.wire.op = Rc::new(op);
        }
        self.mended += 1;
        self.clock = clock;
        self.correction = theirs.ms() - (now + self.skew);
    }

    /// The keeper sets the clock, or the device forgets what it measured.
    pub fn forget_correction(&mut self) {
        self.correction = 0;
    }

    /// False: the history has changed; push, then pull again.
    fn pull(&mut self, server: &Server, page: usize, cut: bool) -> bool {
        let mut brought = false;
        loop {
            let epoch = self.epoch.expect("registered");
            match server.pull(epoch, self.after, self.chain, page.max(2)) {
                Pulled::Changed { epoch, common } => {
                    self.changed(epoch, common);
                    return false;
                }
                Pulled::Ops { ops, chain, more } => {
                    for (seq, wire) in ops {
                        brought = true;
                        self.after = seq;
                        self.clock = self.clock.max(wire.op.clock);
                        let accepted = wire.receipt.as_ref().map(|r| r.0).expect("every pulled op has one");
                        self.chain = self.rules.chain(self.chain, &wire.text, accepted);
                        self.first_seen.entry(wire.op.id).or_insert(accepted);
                        let row = Row { wire, standing: Standing::Accepted(seq), typed: false };
                        self.rows.insert(row.wire.op.id, row);
                    }
                    assert_eq!(self.chain, chain, "the chain is computable at both ends");
                    if !more || cut {
                        self.settle(brought, !more);
                        return true;
                    }
                }
            }
        }
    }

    /// After a pull: what was answered and passed by is pending again, what waited is tried again. What was answered
    /// with a number that the stream does not even reach was passed by too: a disk was rolled back.
    fn settle(&mut self, brought: bool, to_head: bool) {
        for row in self.rows.values_mut() {
            match row.standing {
                Standing::Answered(seq) if to_head || seq <= self.after => row.standing = Standing::Pending,
                Standing::Waiting if brought => row.standing = Standing::Pending,
                _ => {}
            }
        }
    }

    /// What stands above the common history becomes pending again, whoever wrote it, with its receipt.
    fn changed(&mut self, epoch: EpochId, common: u64) {
        self.epoch = Some(epoch);
        self.after = self.after.min(common);
        if !self.rules.receipts {
            let (common, own) = (0, self.device);
            self.after = common;
            self.rows.retain(|_, r| r.wire.op.device == own || !matches!(r.standing, Standing::Accepted(_)));
        }
        let stands = if self.rules.receipts { common } else { 0 };
        for row in self.rows.values_mut() {
            if let Standing::Accepted(seq) | Standing::Answered(seq) = row.standing
                && seq > stands
            {
                row.standing = Standing::Pending;
            }
        }
        let accepted = self.rows.values().filter_map(|r| match (r.standing, &r.wire.receipt) {
            (Standing::Accepted(seq), Some(receipt)) if seq <= self.after => {
                Some((seq, &r.wire.text, receipt.0))
            }
            _ => None,
        });
        let mut held: Vec<_> = accepted.collect();
        held.sort_unstable_by_key(|(seq, ..)| *seq);
        let chain = |chain, (_, text, accepted): (u64, &Rc<str>, _)| self.rules.chain(chain, text, accepted);
        self.chain = held.into_iter().fold(Chain::EMPTY, chain);
    }
}
