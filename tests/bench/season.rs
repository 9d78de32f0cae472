//! A long season in one room, invented and always the same: 100 tanks on five water systems, 200 stocks, and as many
//! ops as are asked for. Of these 60 % are logs, 20 % losses and counts, 15 % moves and 5 % structure; one batch
//! touches at most 60 things. Must not know how ops travel.
#![allow(dead_code, reason = "each driver uses its part")]

use serde_json::{Value, json};
use uuid::{Builder, Uuid};

/// How many tanks.
pub const TANKS: usize = 100;
/// How many stocks.
pub const STOCKS: usize = 200;
const SYSTEMS: usize = 5;
/// Of these a batch may touch so many: 60 in all.
const STOCKS_A_BATCH: usize = 46;
const TANKS_A_BATCH: usize = 12;
const SYSTEMS_A_BATCH: usize = 2;
/// 2025-01-05T06:00:00Z; a minute from op to op, so that nothing lies in the future.
const BEGIN_MS: u64 = 1_736_056_800_000;
const STEP_MS: u64 = 60_000;

/// An op as the client sends it.
pub struct Written {
    /// Its id.
    pub id: Uuid,
    /// Its RFC 8785 text.
    pub text: String,
}

/// Chance that is always the same (xorshift64*, Marsaglia 2003 and Vigna 2016, from memory).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() >> 33) as usize % n
    }

    fn of<T: Copy>(&mut self, some: &[T]) -> T {
        some[self.below(some.len())]
    }
}

/// The room while its ops are made up.
pub struct Season {
    device: Uuid,
    chance: Chance,
    made: u64,
    systems: Vec<Uuid>,
    tanks: Vec<Uuid>,
    stocks: Vec<Stock>,
}

#[derive(Clone, Copy)]
struct Stock {
    id: Uuid,
    node: Uuid,
    tank: usize,
}

impl Season {
    /// A room that one device writes. Its ids are chance that comes from `seed`.
    pub fn new(seed: u64, device: Uuid) -> Self {
        let mut season = Self {
            device,
            chance: Chance(seed.wrapping_mul(2).wrapping_add(1)),
            made: 0,
            systems: vec![],
            tanks: vec![],
            stocks: vec![],
        };
        season.systems = (0..SYSTEMS).map(|_| season.id()).collect();
        season.tanks = (0..TANKS).map(|_| season.id()).collect();
        for _ in 0..STOCKS {
            let stock = Stock { id: season.id(), node: season.id(), tank: season.chance.below(TANKS) };
            season.stocks.push(stock);
        }
        season
    }

    /// What stands and swims there at the beginning.
    pub fn setting_up(&mut self) -> Vec<Written> {
        let mut ops = Vec::new();
        for n in 0..SYSTEMS {
            let body = json!({"op": "water.system_set", "system": self.systems[n], "name": format!("System {n}"),
                "gross_ml": 900_000, "net_ml": 820_000});
            ops.push(self.write(&body));
        }
        for n in 0..TANKS {
            let tank = self.tanks[n];
            let body = json!({"op": "tank.added", "tank": tank, "name": format!("A{n}"), "stand": "left wall",
                "shelf": format!("{}", n / 20), "place": format!("{}", n % 20), "volume_ml": 54_000});
            ops.push(self.write(&body));
            let system = self.systems[n % SYSTEMS];
            ops.push(self.write(&json!({"op": "tank.plumbed", "tank": tank, "system": system})));
        }
        for n in 0..STOCKS {
            let Stock { id, node, tank } = self.stocks[n];
            let body = json!({"op": "stock.established", "stock": id, "name": format!("Line {n}"),
                "species": "Danio pallidus", "keeping": "colony", "tank": self.tanks[tank],
                "founders": {"node": node, "origin": "bought", "related": "not_known"},
                "rows": [{"node": node, "sex": "male", "n": 12}, {"node": node, "sex": "female", "n": 15},
                    {"node": node, "sex": "unsexed", "n": 20}]});
            ops.push(self.write(&body));
        }
        ops
    }

    /// The next ops, as one push takes them.
    pub fn batch(&mut self, n: usize) -> Vec<Written> {
        let stocks = self.chance.below(STOCKS);
        let tanks = self.chance.below(TANKS);
        let systems = self.chance.below(SYSTEMS);
        (0..n)
            .map(|_| {
                let stock = (stocks + self.chance.below(STOCKS_A_BATCH)) % STOCKS;
                let tank = (tanks + self.chance.below(TANKS_A_BATCH)) % TANKS;
                let system = (systems + self.chance.below(SYSTEMS_A_BATCH)) % SYSTEMS;
                let body = match self.chance.below(100) {
                    0..60 => self.log(stock, tank, system),
                    60..80 => self.loss_or_count(stock),
                    80..95 => self.moved(stock),
                    _ => self.structure(stock, tank, system),
                };
                self.write(&body)
            })
            .collect()
    }

    /// The name of a stock, for a command.
    pub fn stock_name(n: usize) -> String {
        format!("Line {n}")
    }

    fn log(&mut self, stock: usize, tank: usize, system: usize) -> Value {
        let (stock, tank, system) = (self.stocks[stock].id, self.tanks[tank], self.systems[system]);
        match self.chance.below(10) {
            0..4 => {
                let food = self.chance.of(&["flakes", "live brine shrimp", "frozen daphnia", "spirulina"]);
                json!({"op": "food.given", "tanks": [tank], "food": food, "amount": "a pinch"})
            }
            4 | 5 => {
                let (typed, milli) = self.chance.of(&[("24.5", 24_500), ("25", 25_000), ("23.8", 23_800)]);
                let value = json!({"what": "temperature", "typed": typed, "unit": "°C", "milli": milli});
                json!({"op": "water.read", "system": system, "values": [value]})
            }
            6 => json!({"op": "look.done", "tanks": [tank]}),
            7 => json!({"op": "job.done", "tank": tank, "job": "water change", "percent": 30}),
            8 => json!({"op": "sign.seen", "stock": stock, "sign": "clamped fins on one fish"}),
            _ => json!({"op": "note.written", "stock": stock, "text": "two males spar near the left corner"}),
        }
    }

    fn loss_or_count(&mut self, stock: usize) -> Value {
        let Stock { id, node, .. } = self.stocks[stock];
        let sex = self.chance.of(&["male", "female", "unsexed"]);
        let count = self.chance.below(4) == 0;
        let n = if count { 8 + self.chance.below(30) } else { 1 + self.chance.below(2) };
        let rows = json!([{"node": node, "sex": sex, "n": n}]);
        if count {
            return json!({"op": "stock.counted", "stock": id, "rows": rows, "all": false});
        }
        let cause = self.chance.of(&["unknown", "old_age", "jumped", "fight"]);
        json!({"op": "stock.lost", "stock": id, "rows": rows, "cause": cause})
    }

    fn moved(&mut self, stock: usize) -> Value {
        let to = self.chance.below(TANKS);
        let from = std::mem::replace(&mut self.stocks[stock].tank, to);
        json!({"op": "stock.moved", "stock": self.stocks[stock].id, "from": self.tanks[from], "to": self.tanks[to]})
    }

    fn structure(&mut self, stock: usize, tank: usize, system: usize) -> Value {
        let (tank, Stock { id, node, .. }) = (self.tanks[tank], self.stocks[stock]);
        match self.chance.below(6) {
            0 => {
                json!({"op": "water.system_set", "system": self.systems[system], "net_ml": 800_000 + self.made})
            }
            1 => json!({"op": "tank.described", "tank": tank, "place": format!("{}", self.made % 20)}),
            2 => json!({"op": "tank.plumbed", "tank": tank, "system": self.systems[system]}),
            3 => json!({"op": "stock.described", "stock": id, "note": "moved to the quiet side of the room"}),
            4 => json!({"op": "stock.described", "stock": id, "form": "long fin"}),
            _ => json!({"op": "stock.sexed", "stock": id,
                "rows": [{"node": node, "from": "unsexed", "to": "male", "n": 1}]}),
        }
    }

    fn id(&mut self) -> Uuid {
        let (high, low) = (self.chance.next().to_be_bytes(), self.chance.next().to_be_bytes());
        let mut random = [0; 10];
        random[..8].copy_from_slice(&high);
        random[8..].copy_from_slice(&low[..2]);
        Builder::from_unix_timestamp_millis(BEGIN_MS + self.made * STEP_MS, &random).into_uuid()
    }

    fn write(&mut self, body: &Value) -> Written {
        let id = self.id();
        let at = BEGIN_MS / 1000 + self.made * STEP_MS / 1000;
        let (day, second) = (at / 86_400, at % 86_400);
        let at = format!("{}T{:02}:{:02}:{:02}", date(day), second / 3600, second / 60 % 60, second % 60);
        let clock = format!("{at}.000Z/0000");
        self.made += 1;
        let op =
            json!({"id": id, "device": self.device, "clock": clock, "at": format!("{at}Z"), "body": body});
        // keys come out sorted, there is no fraction and nothing to escape: that is RFC 8785
        Written { id, text: op.to_string() }
    }
}

/// The date of a day since 1970 (Hinnant, "chrono-Compatible Low-Level Date Algorithms", from memory).
fn date(day: u64) -> String {
    let shifted = day + 719_468;
    let (era, of_era) = (shifted / 146_097, shifted % 146_097);
    let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    let year = year_of_era + era * 400 + u64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}
