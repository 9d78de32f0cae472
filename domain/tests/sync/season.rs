//! One random season of three devices, pages, decisions, backups and restores; and what must hold at its end.

use std::collections::{BTreeMap, BTreeSet};

use tarn_domain::state::Memory;
use tarn_domain::streams::{Acceptance, AccountId, DeviceId, OpId};
use uuid::Uuid;

use crate::client::Client;
use crate::dice::Dice;
use crate::keeper::{self, View};
use crate::row::Standing;
use crate::rules::Rules;
use crate::server::{Disk, Server, Stored};
use crate::wire::{Luck, Wire};

const MINUTE: i64 = 60_000;
const BEGIN: i64 = 1_772_323_200_000;

/// What happens in a season besides writing and syncing.
#[derive(Clone, Copy, Default)]
pub struct Setting {
    /// The third device is a co-keeper's.
    pub co_keeper: bool,
    /// Backups are restored.
    pub restore: bool,
    /// Half of the times the disk is rolled back instead, and nobody says so.
    pub rollback: bool,
    /// The third device never comes back.
    pub dead_phone: bool,
}

/// How one went.
#[derive(Debug, Default)]
pub struct Season {
    /// What does not hold.
    pub wrong: Vec<String>,
    /// Ops that ended with another acceptance than their first.
    pub later_received: usize,
    /// Those of them whose writer had already pulled an earlier one.
    pub later_than_seen: usize,
    /// Ops that were acknowledged to their writers.
    pub written: usize,
    /// Of them, those that were refused for good.
    pub refused: usize,
    /// How often clocks were mended.
    pub mended: usize,
    /// How often a decision came back by its receipt.
    pub decisions_back: usize,
}

struct World {
    dice: Dice,
    setting: Setting,
    now: i64,
    server: Server,
    clients: Vec<Client>,
    backups: Vec<Disk>,
    restores: u128,
    fresh: u128,
    /// What each device acknowledged, in order.
    written: BTreeMap<DeviceId, Vec<OpId>>,
    /// Pushes that the wire may deliver once more, with when they were made.
    late: Vec<(AccountId, Vec<Wire>, i64)>,
}

fn account(n: u128) -> AccountId {
    AccountId(Uuid::from_u128(0xa00 + n))
}

/// Plays a season.
pub fn play(seed: u64, rules: Rules, setting: Setting, thorough: bool) -> Season {
    let mut dice = Dice::of(seed);
    let clients = (0..3)
        .map(|n| {
            let whose = account(u128::from(setting.co_keeper && n == 2));
            let skew = dice.pick(&[0, 0, -10, 10, 7, 4]) * MINUTE;
            Client::new(rules, whose, DeviceId(Uuid::from_u128(0xd00 + n)), skew)
        })
        .collect();
    let server = Server::new(rules, thorough);
    let backups = vec![server.backup()];
    let (written, late) = (BTreeMap::new(), Vec::new());
    let (now, restores, fresh) = (BEGIN, 0, 0);
    let mut world = World { dice, setting, now, server, clients, backups, restores, fresh, written, late };
    for _ in 0..world.dice.of_range(15..60) {
        world.step();
    }
    if setting.dead_phone {
        world.clients.truncate(2);
    }
    for round in 0..12 {
        let head = world.server.ops().len();
        if round > 1 && world.clients.iter().all(|client| client.is_done(head)) {
            break;
        }
        for client in &mut world.clients {
            world.now += 1;
            client.sync(&mut world.server, 5, Luck::default(), world.now);
        }
    }
    world.end(thorough)
}

impl World {
    fn fresh(&mut self) -> Uuid {
        self.fresh += 1;
        Uuid::from_u128(0x0190_c000_0000_7000_8000_0000_0000_0000 | self.fresh)
    }

    fn step(&mut self) {
        self.now += self.dice.of_range(0..4 * MINUTE);
        let who = self.dice.below(3);
        match self.dice.below(100) {
            0..50 => self.write(who),
            50..74 => self.sync(who),
            74..78 => self.deliver_late(),
            78..84 => self.page(),
            84..88 => self.decide(),
            88..94 => self.backups.push(self.server.backup()),
            _ if self.setting.restore => {
                let last = self.backups.len().saturating_sub(3);
                let disk = self.dice.pick(&self.backups[last..]);
                let silent = self.setting.rollback && self.dice.percent(50);
                self.restores += 1;
                // A server that is put back has no old connections.
                self.late.clear();
                self.server.put_back(disk, (!silent).then_some(self.restores));
            }
            _ => {}
        }
    }

    fn write(&mut self, who: usize) {
        let fresh = self.fresh();
        let client = &mut self.clients[who];
        let view = View::of(client.view());
        let (body, back) = keeper::entry(&mut self.dice, &view, fresh);
        let id = client.write(body, back, self.now);
        self.written.entry(client.device).or_default().push(id);
    }

    fn sync(&mut self, who: usize) {
        let batch = self.dice.pick(&[1, 3, 50]);
        let luck =
            Luck { lost: self.dice.percent(20), doubled: self.dice.percent(20), cut: self.dice.percent(10) };
        let client = &mut self.clients[who];
        if self.dice.percent(30) {
            client.forget_correction();
        }
        client.sync(&mut self.server, batch, luck, self.now);
        let sent = std::mem::take(&mut client.sent);
        for push in sent.into_iter().filter(|_| self.dice.percent(25)) {
            self.late.push((client.account, push, self.now));
        }
    }

    /// The wire delivers an old push again, in any order.
    fn deliver_late(&mut self) {
        self.dice.shuffle(&mut self.late);
        if let Some((account, push, _)) = self.late.pop() {
            self.server.push(account, &push, self.now);
        }
    }

    fn page(&mut self) {
        let id = OpId(self.fresh());
        let fresh = self.fresh();
        let view = View::of(self.server.ops().iter().map(|s| &*s.op));
        let whose = account(u128::from(self.setting.co_keeper && self.dice.percent(50)));
        let body = keeper::page(&mut self.dice, &view, fresh);
        self.server.write(id, whose, body, false, self.now);
    }

    fn decide(&mut self) {
        let id = OpId(self.fresh());
        let fresh = self.fresh();
        let ops: Vec<_> = self.server.ops().iter().map(|s| &*s.op).collect();
        if let Some(body) = keeper::decision(&mut self.dice, &ops, fresh) {
            self.server.write(id, account(0), body, true, self.now);
        }
    }

    fn end(mut self, thorough: bool) -> Season {
        let mut wrong = Vec::new();
        self.server.fold(true);
        let states = self.server.memory.states();
        let same = |memory: &Memory| {
            memory.states() == states && (!thorough || memory.text() == self.server.memory.text())
        };
        let chosen = self.dice.below(self.clients.len());
        for (i, client) in self.clients.iter().enumerate() {
            let mut ops: Vec<_> = Vec::new();
            let mut held = 0;
            for row in client.rows.values() {
                let accepted = row.wire.receipt.as_ref().map(|(accepted, _)| *accepted);
                match row.standing {
                    Standing::Accepted(seq) => {
                        let theirs = self.server.find(row.wire.op.id);
                        let is_same = |s: &Stored| s.text == row.wire.text && Some(s.accepted) == accepted;
                        held += usize::from(theirs.is_some_and(is_same));
                        ops.push(((*row.wire.op).clone(), accepted, seq));
                    }
                    _ if client.is_stuck(row.wire.op.id) => {}
                    standing => wrong.push(format!("STUCK {:?}: {standing:?}", row.wire.op)),
                }
            }
            let mut agrees = held == ops.len() && held == self.server.ops().len();
            // The same ops are the same state, in any order; one of them is folded to see that.
            if thorough || i == chosen {
                self.dice.shuffle(&mut ops);
                let mut memory = Memory::default();
                memory.add(ops);
                agrees &= same(&memory);
            }
            if !agrees {
                wrong.push(format!("DIVERGES {}", client.device));
            }
        }
        let mut once = BTreeSet::new();
        wrong.extend(
            self.server.ops().iter().filter(|s| !once.insert(s.op.id)).map(|s| format!("DOUBLE {}", s.op.id)),
        );
        let (mut later_received, mut later_than_seen, mut refused) = (0, 0, 0);
        for (device, ids) in &self.written {
            let Some(client) = self.clients.iter().find(|c| c.device == *device) else { continue };
            for id in ids {
                let Some(stored) = self.server.find(*id) else {
                    refused += 1;
                    if !client.is_stuck(*id) {
                        wrong.push(format!("LOST {id}"));
                    }
                    continue;
                };
                let given: &[Acceptance] = &self.server.given[id];
                let good = given.contains(&stored.accepted) && stored.accepted.by == client.account.into();
                if !good || (!self.setting.restore && given[0] != stored.accepted) {
                    wrong.push(format!("RECEIVED {id}"));
                }
                later_received += usize::from(given[0] != stored.accepted);
                later_than_seen += usize::from(
                    client.first_seen.get(id).is_some_and(|a| a.received < stored.accepted.received),
                );
            }
            let here: Vec<_> = ids.iter().filter_map(|id| self.server.find(*id)).collect();
            for pair in here.windows(2).filter(|pair| pair[0].op.clock >= pair[1].op.clock) {
                let [first, then] = [pair[0], pair[1]].map(|s| format!("{} at {}", s.op.id, s.op.clock));
                wrong.push(format!("ORDER {first} was written before {then}"));
            }
        }
        if thorough {
            let ops = self.server.ops().iter().zip(1..);
            let mut memory = Memory::default();
            memory.add(ops.map(|(s, seq)| ((*s.op).clone(), Some(s.accepted), seq)));
            if !same(&memory) {
                wrong.push("REPLAY".into());
            }
        }
        Season {
            wrong,
            later_received,
            later_than_seen,
            written: self.written.values().map(Vec::len).sum(),
            refused,
            mended: self.clients.iter().map(|c| c.mended).sum(),
            decisions_back: self.server.decisions_back,
        }
    }
}
