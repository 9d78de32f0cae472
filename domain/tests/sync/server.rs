//! The server's side of a stream, as small as the rules allow: acceptance, stamps, pull, history, backup and restore.

use std::cell::OnceCell;
use std::collections::BTreeMap;
use std::rc::Rc;

use tarn_domain::catalogue::{Body, Op, Writer};
use tarn_domain::state::Memory;
use tarn_domain::streams::{
    Acceptance, AccountId, Chain, Clock, DeviceId, EpochId, OpId, Received, StreamId, clock_limit,
    next_received,
};
use tarn_domain::streams::{receipt, receipt_holds};
use uuid::Uuid;

use crate::rules::Rules;
use crate::wire::{Outcome, Pulled, Pushed, Wire};

/// The one stream.
pub const STREAM: StreamId = StreamId(Uuid::from_u128(0x5));
const KEY: &[u8] = b"a key of the server, part of every backup";

/// An op that the server has.
#[derive(Clone)]
pub struct Stored {
    /// The op.
    pub op: Rc<Op>,
    /// Its canonical text.
    pub text: Rc<str>,
    /// By whom and when it was accepted.
    pub accepted: Acceptance,
    /// The chain with it.
    chain: Chain,
    /// Its receipt, once somebody has pulled it.
    mac: OnceCell<Rc<str>>,
}

/// What a backup holds, or a disk that is rolled back.
#[derive(Clone)]
pub struct Disk {
    epoch: EpochId,
    line: Vec<(EpochId, u64)>,
    ops: Vec<Stored>,
    devices: BTreeMap<DeviceId, AccountId>,
    greatest: Clock,
    last_received: Received,
}

/// The server.
pub struct Server {
    rules: Rules,
    /// It folds after every push, not only at the end.
    folds: bool,
    disk: Disk,
    index: BTreeMap<OpId, usize>,
    /// The state, kept up to date op by op.
    pub memory: Memory,
    /// Decisions that came back by their receipt.
    pub decisions_back: usize,
    /// Every acceptance it ever gave, whatever became of it since.
    pub given: BTreeMap<OpId, Vec<Acceptance>>,
}

/// The n-th epoch.
fn epoch(n: u128) -> EpochId {
    EpochId(Uuid::from_u128(0xe << 64 | n))
}

impl Server {
    /// An empty stream.
    pub fn new(rules: Rules, folds: bool) -> Self {
        let disk = Disk {
            epoch: epoch(0),
            line: Vec::new(),
            ops: Vec::new(),
            devices: BTreeMap::new(),
            greatest: Clock::START,
            last_received: Received(0),
        };
        Self {
            rules,
            folds,
            disk,
            index: BTreeMap::new(),
            memory: Memory::default(),
            decisions_back: 0,
            given: BTreeMap::new(),
        }
    }

    /// Its ops in order.
    pub fn ops(&self) -> &[Stored] {
        &self.disk.ops
    }

    /// An op's place among them.
    pub fn find(&self, id: OpId) -> Option<&Stored> {
        self.index.get(&id).map(|i| &self.disk.ops[*i])
    }

    /// Registers a device; as often as one likes. Says the epoch.
    pub fn register(&mut self, account: AccountId, device: DeviceId) -> EpochId {
        let owner = *self.disk.devices.entry(device).or_insert(account);
        assert_eq!(owner, account, "a device of another");
        self.disk.epoch
    }

    /// A client's push.
    pub fn push(&mut self, account: AccountId, pushed: &[Wire], now: i64) -> Pushed {
        let limit = clock_limit(now, self.disk.greatest);
        let first: Vec<Option<Acceptance>> = pushed.iter().map(|w| self.first(w)).collect();
        let is_ahead = |(wire, first): (&Wire, &Option<Acceptance>)| {
            wire.op.clock > limit && first.is_none() && !self.index.contains_key(&wire.op.id)
        };
        if !self.rules.server_mends && pushed.iter().zip(&first).any(is_ahead) {
            return Pushed::Ahead { now: Clock::at_ms(now), limit };
        }
        let received = next_received(now, self.disk.last_received);
        let mut results = Vec::with_capacity(pushed.len());
        let mut last = Clock::START;
        for (wire, first) in pushed.iter().zip(first) {
            let id = wire.op.id;
            let mut mended = None;
            let outcome = match self.index.get(&id) {
                Some(i) if self.disk.ops[*i].text == wire.text => Outcome::Seq(seq(*i)),
                Some(i) => Outcome::Taken(seq(*i), self.told(&self.disk.ops[*i])),
                None => match self.judge(account, wire, first) {
                    Err(code) => Outcome::Refused(code),
                    Ok(()) => {
                        if wire.op.clock > limit {
                            // Only by the wrong rule: the server changes what was written.
                            last = last.tick(now);
                            let at = wire.op.at.min(last.at());
                            mended = Some(Wire::of(Op { clock: last, at, ..(*wire.op).clone() }));
                        }
                        let fresh = Acceptance { by: account.into(), received, decision: false };
                        self.decisions_back += usize::from(first.is_some_and(|a| a.decision));
                        let wire = mended.as_ref().unwrap_or(wire);
                        let seq = self.take(wire, first.unwrap_or(fresh));
                        mended.map_or(Outcome::Seq(seq), |wire| Outcome::Taken(seq, wire))
                    }
                },
            };
            results.push((id, outcome));
        }
        self.fold(self.folds);
        Pushed::Results(self.disk.epoch, results)
    }

    /// The acceptance that a good receipt proves.
    fn first(&self, wire: &Wire) -> Option<Acceptance> {
        let (accepted, mac) = wire.receipt.as_ref().filter(|_| self.rules.receipts)?;
        receipt_holds(KEY, STREAM, &*wire.text, *accepted, mac).then_some(*accepted)
    }

    fn judge(&self, account: AccountId, wire: &Wire, first: Option<Acceptance>) -> Result<(), &'static str> {
        let op = &wire.op;
        if first.is_none() {
            if self.disk.devices.get(&op.device) != Some(&account) {
                return Err("device-not-yours");
            }
            if op.body.writer() == Writer::Decision {
                return Err("decision-by-client");
            }
        }
        let links = op.body.links();
        if !self.memory.missing(&links).is_empty() {
            return Err("missing-reference");
        }
        if let Some(target) = links.withdraws {
            let Some(entry) = self.memory.entry(target) else { return Err("missing-reference") };
            let linked = &entry.linked;
            let fixed =
                linked.decision || linked.links.withdraws.is_some() || self.memory.is_relied_on(target);
            if fixed && first.is_none() {
                return Err("op-relied-on");
            }
        }
        Ok(())
    }

    fn take(&mut self, wire: &Wire, accepted: Acceptance) -> u64 {
        let last = self.disk.ops.last().map_or(Chain::EMPTY, |last| last.chain);
        let chain = self.rules.chain(last, &wire.text, accepted);
        let place = self.disk.ops.len();
        let id = wire.op.id;
        self.index.insert(id, place);
        self.disk.ops.push(Stored {
            op: wire.op.clone(),
            text: wire.text.clone(),
            accepted,
            chain,
            mac: OnceCell::new(),
        });
        self.disk.greatest = self.disk.greatest.max(wire.op.clock);
        self.disk.last_received = self.disk.last_received.max(accepted.received);
        self.memory.insert((*wire.op).clone(), Some(accepted), seq(place));
        self.given.entry(id).or_default().push(accepted);
        seq(place)
    }

    /// A page's op, or (with `decision`) the server's own, stamped under the lock.
    pub fn write(&mut self, id: OpId, account: AccountId, body: Body, decision: bool, now: i64) {
        let device = if decision { DeviceId::of_stream(STREAM) } else { DeviceId::of_pages(STREAM, account) };
        let clock = self.disk.greatest.tick(now);
        let received = next_received(now, self.disk.last_received);
        let wire = Wire::of(Op { id, device, clock, at: clock.at(), body });
        self.take(&wire, Acceptance { by: account.into(), received, decision });
        self.fold(self.folds);
    }

    /// Brings the state up to date.
    pub fn fold(&mut self, now: bool) {
        if now {
            self.memory.refold();
        }
    }

    fn told(&self, stored: &Stored) -> Wire {
        let mac =
            stored.mac.get_or_init(|| receipt(KEY, STREAM, &*stored.text, stored.accepted).into()).clone();
        Wire { op: stored.op.clone(), text: stored.text.clone(), receipt: Some((stored.accepted, mac)) }
    }

    fn chain_at(&self, after: u64) -> Chain {
        let place = usize::try_from(after).expect("small");
        place.checked_sub(1).map_or(Chain::EMPTY, |last| self.disk.ops[last].chain)
    }

    /// A client's pull.
    pub fn pull(&self, theirs: EpochId, after: u64, chain: Chain, limit: usize) -> Pulled {
        let epoch = self.disk.epoch;
        if theirs != epoch {
            let common = self.disk.line.iter().rfind(|(e, _)| *e == theirs).map_or(0, |(_, last)| *last);
            return Pulled::Changed { epoch, common };
        }
        let head = self.disk.ops.len() as u64;
        if after > head || self.chain_at(after) != chain {
            return Pulled::Changed { epoch, common: 0 };
        }
        let from = usize::try_from(after).expect("small");
        let next = self.disk.ops.iter().enumerate().skip(from).take(limit);
        let ops: Vec<(u64, Wire)> = next.map(|(i, stored)| (seq(i), self.told(stored))).collect();
        let last = ops.last().map_or(after, |(seq, _)| *seq);
        Pulled::Ops { ops, chain: self.chain_at(last), more: last < head }
    }

    /// A backup of everything.
    pub fn backup(&self) -> Disk {
        self.disk.clone()
    }

    /// Puts an older state back: with a new epoch (`restore`), or without anybody noticing (a rolled-back disk).
    pub fn put_back(&mut self, disk: Disk, restored: Option<u128>) {
        self.disk = disk;
        if let Some(n) = restored {
            self.disk.line.push((self.disk.epoch, self.disk.ops.len() as u64));
            self.disk.epoch = epoch(n);
        }
        self.index = self.disk.ops.iter().enumerate().map(|(i, stored)| (stored.op.id, i)).collect();
        self.memory = Memory::default();
        for (i, stored) in self.disk.ops.iter().enumerate() {
            self.memory.insert((*stored.op).clone(), Some(stored.accepted), seq(i));
        }
        self.fold(self.folds);
    }
}

fn seq(place: usize) -> u64 {
    place as u64 + 1
}
