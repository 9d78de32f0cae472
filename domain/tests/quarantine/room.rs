//! Rooms at random: few tanks, fish from outside and from here, moved, split, put together, re-plumbed, lost, found;
//! clubs with other rules; sign-offs good and bad. Days are few and full hours, so that much falls together.

use tarn_domain::catalogue::{Body, Op};
use tarn_domain::lineage::{BroodName, YoungFound};
use tarn_domain::quarantine::{HomeClubSet, QuarantineCleared, Rule, RuleAdopted, Seen, SharedWater};
use tarn_domain::rooms::ops::{
    Founders, StockCameIn, StockCounted, StockEstablished, StockLost, StockMerged, StockMoved, StockSplit,
    SystemSet, TankAdded, TankPlumbed,
};
use tarn_domain::rooms::words::{CameFrom, Cause, Origin, Related};
use tarn_domain::rooms::{Count, Node, Row, Sex};
use tarn_domain::state::Memory;
use tarn_domain::streams::{
    Acceptance, AccountId, At, Clock, ClubId, Days, DeviceId, NodeId, OpId, Patch, Received, StockId,
    SystemId, TankId, UnitId,
};
use uuid::Uuid;

use crate::dice::Dice;

const BEGIN: i64 = 1_772_323_200;

/// Day n of the room, at midnight.
pub fn day(n: i64) -> At {
    At::from_seconds(BEGIN + n * 86_400)
}

/// The n-th thing of its kind.
pub fn id(n: usize) -> Uuid {
    Uuid::from_u128(0x0190_d000_0000_7000_8000_0000_0000_0000 | u128::try_from(n).expect("small"))
}

/// A room's record as it is written.
#[derive(Default)]
pub struct Record {
    /// What it folds to.
    pub memory: Memory,
    fresh: Vec<(Op, Option<Acceptance>, u64)>,
    written: u64,
}

impl Record {
    /// Writes an op, dated then.
    pub fn write(&mut self, at: At, body: Body) -> OpId {
        self.written += 1;
        let number = u128::from(self.written);
        let id = OpId(Uuid::from_u128(0x0190_e000_0000_7000_8000_0000_0000_0000 | number));
        let clock = Clock::at_ms(day(400).ms() + i64::try_from(self.written).expect("few"));
        let decision =
            matches!(body, Body::RuleAdopted(_) | Body::HomeClubSet(_) | Body::QuarantineCleared(_));
        let accepted = Acceptance { by: AccountId(Uuid::nil()), received: Received(0), decision };
        let op = Op { id, device: DeviceId(Uuid::nil()), clock, at, body };
        self.fresh.push((op, Some(accepted), self.written));
        id
    }

    /// Folds what was written.
    pub fn fold(&mut self) -> &Memory {
        self.memory.add(std::mem::take(&mut self.fresh));
        &self.memory
    }
}

/// So many fish, not told apart.
pub fn fish(n: i64) -> Vec<Row> {
    let n = Count::of(u32::try_from(n).expect("small")).expect("small");
    vec![Row { node: Node::Unassigned, sex: Sex::Unsexed, n, about: false }]
}

/// A tank.
pub fn tank(tank: TankId) -> Body {
    let [stand, shelf, place] = [const { None }; 3];
    let (volume_ml, displacement_ml) = (None, None);
    Body::TankAdded(TankAdded { tank, name: "tank".into(), stand, shelf, place, volume_ml, displacement_ml })
}

/// Fish from a shop.
pub fn came_in(stock: StockId, n: i64, tank: Option<TankId>) -> Body {
    let (from, rows) = (CameFrom::Shop, fish(n));
    let founders = Founders {
        node: NodeId(stock.0),
        origin: Origin::Bought,
        related: Related::NotKnown,
        locality: None,
    };
    let [source, name, species, form] = [const { None }; 4];
    Body::StockCameIn(StockCameIn {
        stock,
        from,
        source,
        name,
        keeping: None,
        species,
        form,
        founders,
        rows,
        tank,
    })
}

/// Fish that were here.
pub fn home(stock: StockId, n: i64, tank: Option<TankId>) -> Body {
    let [name, species, form] = [const { None }; 3];
    let (keeping, since, founders, rows) = (None, None, None, fish(n));
    Body::StockEstablished(StockEstablished {
        stock,
        name,
        keeping,
        species,
        form,
        since,
        founders,
        rows,
        tank,
    })
}

/// A move.
pub fn moved(stock: StockId, from: Option<TankId>, to: Option<TankId>) -> Body {
    Body::StockMoved(StockMoved { stock, from, to })
}

/// Some fish of a stock are kept apart.
pub fn split(stock: StockId, new: StockId, tank: Option<TankId>) -> Body {
    Body::StockSplit(StockSplit { stock, new, rows: fish(2), tank, name: None })
}

/// Some fish of a stock join another.
pub fn merged(stock: StockId, into: StockId) -> Body {
    Body::StockMerged(StockMerged { stock, into, rows: fish(2) })
}

/// A tank joins a system, or stands alone.
pub fn plumbed(tank: TankId, system: Option<SystemId>) -> Body {
    Body::TankPlumbed(TankPlumbed { tank, system })
}

/// A water system.
pub fn system(system: SystemId) -> Body {
    let name = Patch::Keep;
    let (gross_ml, net_ml, sump_ml) = (Patch::Keep, Patch::Keep, Patch::Keep);
    let (pipes_ml, displacement_ml) = (Patch::Keep, Patch::Keep);
    Body::SystemSet(SystemSet { system, name, gross_ml, net_ml, sump_ml, pipes_ml, displacement_ml })
}

/// A club's rule.
pub fn rule(min_days: u16, shared_water: SharedWater) -> Rule {
    Rule { min_days: Days(min_days), shared_water, ..Rule::shipped() }
}

/// A club adopts a rule, from then on.
pub fn adopted(club: ClubId, version: u32, from: At, rule: Rule) -> Body {
    Body::RuleAdopted(RuleAdopted { club, version, from, rule, relies: Vec::new() })
}

/// The room comes to a club.
pub fn home_club(club: Option<ClubId>, from: At) -> Body {
    Body::HomeClubSet(HomeClubSet { club, from, relies: Vec::new() })
}

/// A sign-off of these.
pub fn cleared(members: Vec<StockId>) -> Body {
    Body::QuarantineCleared(QuarantineCleared {
        unit: UnitId(Uuid::nil()),
        members,
        club: ClubId(Uuid::nil()),
        rules: Vec::new(),
        held: Days(0),
        steward: AccountId(Uuid::nil()),
        seen: Seen::Visit,
        remark: None,
        waivers: Vec::new(),
        relies: Vec::new(),
    })
}

const TANKS: usize = 4;
const SYSTEMS: usize = 2;

/// Where the author thinks things are.
struct Author {
    dice: Dice,
    record: Record,
    stocks: Vec<(StockId, Option<TankId>)>,
}

/// A random record over forty days, without sign-offs.
pub fn random(seed: u64) -> (Record, Dice) {
    let mut dice = Dice::of(seed);
    let mut record = Record::default();
    for n in 0..SYSTEMS {
        record.write(day(0), system(SystemId(id(100 + n))));
    }
    for n in 0..TANKS {
        record.write(day(0), tank(TankId(id(n))));
        if dice.percent(60) {
            let system = Some(SystemId(id(100 + dice.below(SYSTEMS))));
            record.write(day(0), plumbed(TankId(id(n)), system));
        }
    }
    let mut author = Author { dice, record, stocks: Vec::new() };
    let mut now = day(0);
    let steps = 4 + author.dice.below(14);
    for n in 0..steps {
        now = At::from_seconds(
            now.seconds() + author.dice.pick(&[0, 0, 43_200, 86_400, 3 * 86_400, 6 * 86_400]),
        );
        author.step(n, now);
    }
    (author.record, author.dice)
}

impl Author {
    fn place(&mut self) -> Option<TankId> {
        self.dice.percent(85).then(|| TankId(id(self.dice.below(TANKS))))
    }

    fn step(&mut self, n: usize, now: At) {
        let new = StockId(id(1000 + n));
        let chance = if n < 3 { self.dice.below(40) } else { self.dice.below(100) };
        if self.stocks.is_empty() || chance < 40 {
            let place = self.place();
            let body = match chance {
                0..20 => came_in(new, 10, place),
                20..36 => home(new, 10, place),
                _ => young(new, place),
            };
            self.record.write(now, body);
            self.stocks.push((new, place));
            return;
        }
        let i = self.dice.below(self.stocks.len());
        let (stock, place) = self.stocks[i];
        let body = match chance {
            40..58 => {
                let to = self.place();
                self.stocks[i].1 = to;
                moved(stock, if self.dice.percent(85) { place } else { self.place() }, to)
            }
            58..68 => {
                let tank = self.place();
                self.stocks.push((new, tank));
                let n = self.dice.of_range(0..4);
                Body::StockSplit(StockSplit { stock, new, rows: fish(n), tank, name: None })
            }
            68..76 => {
                let into = self.dice.pick(&self.stocks).0;
                let n = self.dice.pick(&[2, 10]);
                Body::StockMerged(StockMerged { stock, into, rows: fish(n) })
            }
            76..84 => {
                let (n, cause) = (self.dice.pick(&[1, 10]), Cause::OldAge);
                Body::StockLost(StockLost { stock, rows: fish(n), cause, reason: None })
            }
            84..87 => Body::StockCounted(StockCounted { stock, rows: fish(5), all: true }),
            87..93 => {
                let system = self.dice.percent(60).then(|| SystemId(id(100 + self.dice.below(SYSTEMS))));
                plumbed(TankId(id(self.dice.below(TANKS))), system)
            }
            _ => {
                let club = ClubId(id(200 + self.dice.below(2)));
                let shared = self.dice.pick(&[SharedWater::Restart, SharedWater::WaitForLast]);
                let days = u16::try_from(self.dice.of_range(2..12)).expect("small");
                self.record
                    .write(now, adopted(club, u32::try_from(n).expect("few"), now, rule(days, shared)));
                home_club(self.dice.percent(85).then_some(club), now)
            }
        };
        // Some are only written down later.
        let at = if self.dice.percent(12) { At::from_seconds(now.seconds() - 4 * 86_400) } else { now };
        self.record.write(at, body);
    }
}

/// Young of this room.
pub fn young(stock: StockId, tank: Option<TankId>) -> Body {
    let (brood, code, name, rows) = (NodeId(stock.0), "A1".to_owned(), BroodName::default(), fish(20));
    Body::YoungFound(YoungFound {
        brood,
        spawning: None,
        code,
        name,
        window: None,
        sires: None,
        dams: None,
        stock,
        rows,
        tank,
    })
}
