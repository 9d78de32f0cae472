//! A season in four rooms made up by chance: fish come, breed, are moved about, counted, lost, sent, and entries are
//! taken back as far as the server lets them.

use serde_json::{Value, json};
use tarn_domain::parcels::sent_rows;
use tarn_domain::rooms::{Node, Sex};
use tarn_domain::state::view;
use tarn_domain::streams::{OpId, StockId};

use crate::dice::Dice;
use crate::ledger::{Ledger, id};
use crate::rooms::{handed, packed, sending, sent, tell};

/// A parcel on its way.
struct Bag {
    parcel: u128,
    giver: usize,
    relies: [OpId; 2],
    left: bool,
    came: usize,
}

/// Four rooms and what is between them.
pub struct Season {
    /// Its chance.
    pub dice: Dice,
    /// The rooms.
    pub rooms: Vec<Ledger>,
    bags: Vec<Bag>,
    next: u128,
    /// How often each thing happened: came, dead on the way, first, twice, back, told apart, settled, taken back.
    pub seen: [usize; 8],
}

fn word(sex: Sex) -> &'static str {
    match sex {
        Sex::Male => "male",
        Sex::Female => "female",
        Sex::Unsexed => "unsexed",
        Sex::Eggs => "eggs",
        Sex::Any => "any",
    }
}

impl Season {
    /// The same for the same seed.
    pub fn of(seed: u64) -> Self {
        let rooms = (1..=4).map(Ledger::of).collect();
        Self { dice: Dice::of(seed), rooms, bags: Vec::new(), next: 0x100, seen: [0; 8] }
    }

    fn fresh(&mut self) -> u128 {
        self.next += 1;
        self.next
    }

    /// The parcels of which anything is told.
    pub fn parcels(&self) -> Vec<u128> {
        self.bags.iter().map(|bag| bag.parcel).collect()
    }

    fn stocks(&self, room: usize) -> Vec<StockId> {
        view(self.rooms[room].memory.states()).stocks.keys().copied().collect()
    }

    /// A row of a stock as the records have it, or one that is not there.
    fn row(&mut self, room: usize, stock: StockId) -> (Value, &'static str) {
        let states = view(self.rooms[room].memory.states());
        let rows: Vec<(Node, Sex)> = states.stocks[&stock].numbers.rows().map(|(key, _)| key).collect();
        if rows.is_empty() || self.dice.percent(10) {
            return (json!("unassigned"), self.dice.pick(&["any", "unsexed"]));
        }
        let (node, sex) = self.dice.pick(&rows);
        (json!(node), word(sex))
    }

    fn few(&mut self, room: usize, stock: StockId) -> Value {
        (0..1 + self.dice.below(2))
            .map(|_| {
                let (node, sex) = self.row(room, stock);
                json!({"node": node, "sex": sex, "n": self.dice.below(5)})
            })
            .collect()
    }

    /// Something happens somewhere.
    pub fn step(&mut self, on: u32) {
        let room = self.dice.below(4);
        let stocks = self.stocks(room);
        if stocks.is_empty() || self.dice.percent(12) {
            return self.comes(on, room);
        }
        let stock = self.dice.pick(&stocks);
        let other = self.dice.pick(&stocks);
        // some of it is written down late
        let dated = on.saturating_sub(if self.dice.percent(20) { self.dice.below(6) as u32 } else { 0 });
        let mut body = json!({"stock": stock});
        match self.dice.below(20) {
            0 | 1 => {
                (body["op"], body["new"]) = (json!("stock.split"), json!(id(self.fresh())));
                body["rows"] = self.few(room, stock);
            }
            2 if other != stock => {
                (body["op"], body["into"]) = (json!("stock.merged"), json!(other));
                body["rows"] = self.few(room, stock);
            }
            3 | 4 => {
                (body["op"], body["cause"]) = (json!("stock.lost"), json!("unknown"));
                body["rows"] = self.few(room, stock);
                if self.dice.percent(30) {
                    body["rows"][0]["sex"] = json!("any");
                }
            }
            5 => {
                (body["op"], body["to"]) = (json!("stock.left"), json!("shop"));
                body["rows"] = self.few(room, stock);
            }
            6 | 7 => {
                (body["op"], body["all"]) = (json!("stock.counted"), json!(self.dice.percent(40)));
                body["rows"] = self.few(room, stock);
            }
            8 => {
                let (node, from) = self.row(room, stock);
                let to = self.dice.pick(&["male", "female"]);
                body["op"] = json!("stock.sexed");
                body["rows"] = json!([{"node": node, "from": from, "to": to, "n": self.dice.below(4)}]);
            }
            9..12 => return self.packs(on, room, stock),
            12..16 => return self.arrives(on),
            16 => return self.settles(on),
            17 | 18 => return self.takes_back(on, room),
            _ => return self.server(on),
        }
        self.rooms[room].write(dated, body);
    }

    fn comes(&mut self, on: u32, room: usize) {
        let (stock, node) = (self.fresh(), self.fresh());
        let rows: Value = ["male", "female", "unsexed"]
            .iter()
            .map(|sex| json!({"node": id(node), "sex": sex, "n": self.dice.below(6)}))
            .collect();
        let founders = json!({"node": id(node), "origin": "wild", "related": "unrelated"});
        let stocks = self.stocks(room);
        let body = match self.dice.below(3) {
            0 => json!({"op": "stock.established", "stock": id(stock), "founders": founders, "rows": rows}),
            1 => {
                json!({"op": "stock.came_in", "stock": id(stock), "from": "wild", "founders": founders, "rows": rows})
            }
            _ => {
                let mut body = json!({"op": "young.found", "brood": id(node), "stock": id(stock), "code": "Y",
                    "name": {}, "rows": rows});
                if !stocks.is_empty() {
                    let parents = self.dice.pick(&stocks);
                    body["dams"] =
                        json!({"of": [{"stock": parents, "node": "unassigned", "n": 1}], "draw": "one"});
                }
                body
            }
        };
        self.rooms[room].write(on, body);
    }

    fn packs(&mut self, on: u32, giver: usize, stock: StockId) {
        let parcel = self.fresh();
        let (node, sex) = self.row(giver, stock);
        let rows = json!([packed(stock.0.as_u128() & 0xffff, node, sex, 1 + self.dice.below(4) as u32)]);
        let relies = handed(&mut self.rooms[giver], on, parcel, rows);
        self.bags.push(Bag { parcel, giver, relies, left: false, came: 0 });
        if self.dice.percent(60) {
            self.server(on);
        }
    }

    /// The server lets go what was handed over, sometimes another number than was packed; and tells of what came.
    fn server(&mut self, on: u32) {
        for at in 0..self.bags.len() {
            let Bag { parcel, giver, relies, left, .. } = self.bags[at];
            let live = |op: &OpId| self.rooms[giver].memory.entry(*op).is_some_and(|entry| entry.linked.live);
            if left || !relies.iter().all(live) || self.dice.percent(25) {
                continue;
            }
            let mut rows = serde_json::to_value(&self.rooms[giver].parcel(parcel).rows).expect("rows");
            if self.dice.percent(20) {
                rows[0]["n"] = json!(self.dice.below(5));
            }
            sent(&mut self.rooms[giver], on, parcel, relies, Some(rows));
            self.bags[at].left = true;
        }
        self.matches(on);
    }

    fn matches(&mut self, on: u32) {
        for at in 0..self.bags.len() {
            let Bag { parcel, giver, .. } = self.bags[at];
            for receiver in 0..4 {
                let side = self.side(receiver, parcel);
                let Some((op, None)) = side.and_then(|side| Some((side.arrived?.0, side.matched))) else {
                    continue;
                };
                if sending(&self.rooms[giver], parcel).is_some() {
                    let body = tell(&self.rooms[giver], &self.rooms[receiver], (parcel, op));
                    self.seen[5] += usize::from(body.get("told_apart").is_some());
                    let (alive, dead) = {
                        let side = self.rooms[receiver].parcel(parcel);
                        (side.alive, side.dead)
                    };
                    self.rooms[receiver].write(on, body);
                    let at = crate::ledger::day(on);
                    let told = json!({"op": "parcel.received", "parcel": id(parcel), "at": at, "alive": alive, "dead": dead});
                    self.rooms[giver].write(on, told);
                }
            }
        }
    }

    fn side(&self, room: usize, parcel: u128) -> Option<tarn_domain::parcels::ParcelState> {
        let states = view(self.rooms[room].memory.states());
        states.parcels.get(&tarn_domain::streams::ParcelId(id(parcel))).map(|side| (*side).clone())
    }

    fn arrives(&mut self, on: u32) {
        let open: Vec<usize> = (0..self.bags.len()).filter(|at| self.bags[*at].came < 2).collect();
        if open.is_empty() {
            return;
        }
        let at = self.dice.pick(&open);
        let Bag { parcel, giver, left, came, .. } = self.bags[at];
        if came > 0 && self.dice.percent(70) {
            return;
        }
        let receiver = self.dice.below(4);
        let (mut alive, mut dead) = (Vec::new(), Vec::new());
        for row in sent_rows(&self.rooms[giver].parcel(parcel).rows) {
            let mut row = json!(row);
            if self.dice.percent(30) {
                row["node"] = json!("unassigned");
            }
            let n = row["n"].as_u64().expect("a number") as usize;
            let gone = self.dice.below(n.min(2) + 1);
            let mut lost = row.clone();
            (row["n"], lost["n"]) = (json!(n - gone + usize::from(self.dice.percent(10))), json!(gone));
            alive.push(row);
            if gone > 0 {
                dead.push(lost);
            }
        }
        for (which, is) in
            [(0, true), (1, !dead.is_empty()), (2, !left), (3, came > 0), (4, receiver == giver)]
        {
            self.seen[which] += usize::from(is);
        }
        let stock = id(self.fresh());
        self.bags[at].came += 1;
        self.rooms[receiver].write(on, json!({"op": "parcel.arrived", "parcel": id(parcel), "stock": stock, "alive": alive, "dead": dead}));
    }

    fn settles(&mut self, on: u32) {
        let Some(bag) = (!self.bags.is_empty()).then(|| self.dice.below(self.bags.len())) else { return };
        let Bag { parcel, giver, .. } = self.bags[bag];
        let sides: Vec<_> = (0..4).filter_map(|room| self.side(room, parcel)).collect();
        let mut open = tarn_domain::rooms::Numbers::default();
        sides
            .iter()
            .flat_map(|side| side.open().rows().collect::<Vec<_>>())
            .for_each(|(key, n)| open.add(key, n));
        let rows: Vec<Value> = open
            .rows()
            .filter(|_| self.dice.percent(80))
            .map(|((node, sex), n)| json!({"node": node, "sex": sex, "n": n}))
            .collect();
        self.seen[6] += usize::from(!rows.is_empty());
        let outcome = self.dice.pick(&["arrived", "returned", "lost"]);
        self.rooms[giver].write(
            on,
            json!({"op": "parcel.settled", "parcel": id(parcel), "outcome": outcome,
            "rows": rows, "why": "never came", "officer": id(0x90), "relies": []}),
        );
    }

    fn takes_back(&mut self, on: u32, room: usize) {
        let memory = &self.rooms[room].memory;
        let may = |op: &OpId| {
            memory.entry(*op).is_some_and(|entry| {
                !entry.linked.decision && entry.linked.links.withdraws.is_none() && !memory.is_relied_on(*op)
            })
        };
        let all: Vec<OpId> = self.rooms[room].ops.iter().map(|(op, _)| op.id).filter(may).collect();
        if !all.is_empty() {
            let op = self.dice.pick(&all);
            self.rooms[room].withdraw(on, op);
            self.seen[7] += 1;
        }
    }
}
