//! A small room to write records in, and what its quarantine then says. Two tanks, A and B, are on one sump; C and D
//! stand alone; X is a box. The room belongs to a club with the shipped rule: 30 days, a look every 7 days, late after
//! 72 hours, water for 7 days, 20 per cent. Every entry is a push of its own, received a minute after it happened,
//! unless a test says otherwise.

use std::cell::RefCell;

use tarn_domain::catalogue::{Body, Op, Writer, writer};
use tarn_domain::quarantine::Held;
use tarn_domain::quarantine::{BlockerKind, Rule, Unit};
use tarn_domain::state::{EntityState, Memory, Quarantine};
use tarn_domain::streams::{
    Acceptance, AccountId, At, Clock, ClubId, DeviceId, Entity, OpId, Received, StockId, SystemId, TankId,
    TreatmentId,
};
use uuid::Uuid;

use crate::bodies;

const fn id(n: u128) -> Uuid {
    Uuid::from_u128(0x0190_b000_0000_7000_8000_0000_0000_0000 | n)
}

pub const A: TankId = TankId(id(1));
pub const B: TankId = TankId(id(2));
pub const C: TankId = TankId(id(3));
pub const D: TankId = TankId(id(4));
pub const X: TankId = TankId(id(5));
/// A tank that a test adds itself.
pub const NOOK: TankId = TankId(id(6));
pub const TANKS: [TankId; 5] = [A, B, C, D, X];
pub const LOOP: SystemId = SystemId(id(10));
pub const OTHER: SystemId = SystemId(id(11));
pub const SYSTEMS: [SystemId; 2] = [LOOP, OTHER];
pub const CLUB: ClubId = ClubId(id(20));
pub const SECOND: ClubId = ClubId(id(21));
pub const CURE: TreatmentId = TreatmentId(id(30));

/// Fish that were here.
pub const HOME: StockId = StockId(id(40));
/// More of them.
pub const MORE: StockId = StockId(id(41));
/// Fish from a shop.
pub const NEW: StockId = StockId(id(50));
/// The next fish from a shop.
pub const NEXT: StockId = StockId(id(51));
/// Split off something.
pub const PART: StockId = StockId(id(60));
/// Young of this room.
pub const YOUNG: StockId = StockId(id(70));

/// Day n, at midnight.
pub fn day(n: i64) -> At {
    hour(n, 0)
}

/// An hour of a day.
pub fn hour(n: i64, hours: i64) -> At {
    At::from_seconds(1_772_323_200 + n * 86_400 + hours * 3_600)
}

/// Which day an instant is on.
pub fn day_of(at: At) -> i64 {
    (at.seconds() - day(0).seconds()).div_euclid(86_400)
}

/// A room and all that was written.
pub struct Room {
    /// Everything, as it was accepted.
    pub ops: Vec<(Op, Option<Acceptance>)>,
    folded: RefCell<(usize, Memory)>,
}

/// Writes at one instant.
pub struct Pen<'a> {
    room: &'a mut Room,
    at: At,
    received: Option<Received>,
    pending: bool,
}

impl Room {
    /// Nothing in it but tanks and the club.
    pub fn new() -> Self {
        Self::under(Rule::shipped())
    }

    /// The same under another rule.
    pub fn under(rule: Rule) -> Self {
        let mut room = Self::of(Vec::new());
        for system in SYSTEMS {
            room.on(day(-90)).write(bodies::system(system));
        }
        for tank in TANKS {
            room.on(day(-90)).write(bodies::tank(tank));
        }
        for tank in [A, B] {
            room.on(day(-90)).plumbed(tank, Some(LOOP));
        }
        room.on(day(-90)).rule(CLUB, 1, rule);
        room.on(day(-90)).home_club(Some(CLUB));
        room
    }

    /// Of entries that came in this order.
    pub fn of(ops: Vec<(Op, Option<Acceptance>)>) -> Self {
        Self { ops, folded: RefCell::new((0, Memory::default())) }
    }

    /// With home fish in tank A, whose records the server has long had.
    pub fn with_home_fish() -> Self {
        let mut room = Self::new();
        room.on(day(-80)).home(HOME, 10, A);
        room
    }

    /// With fish from a shop in tank C since day 0, looked at every day up to day 60 wherever they are.
    pub fn with_new_fish() -> Self {
        let mut room = Self::new();
        room.on(day(0)).came_in(NEW, 10, C);
        room.looks(0..60, &TANKS);
        room
    }

    /// Something that happened then.
    pub fn on(&mut self, at: At) -> Pen<'_> {
        Pen { room: self, at, received: None, pending: false }
    }

    /// A look at these tanks at noon of every day.
    pub fn looks(&mut self, days: std::ops::Range<i64>, tanks: &[TankId]) {
        for n in days {
            self.on(hour(n, 12)).look(tanks);
        }
    }

    fn ask<T>(&self, ask: impl FnOnce(&Memory) -> T) -> T {
        let mut folded = self.folded.borrow_mut();
        let (done, memory) = &mut *folded;
        let fresh = self.ops.iter().enumerate().skip(*done);
        memory.add(fresh.map(|(i, (op, accepted))| (op.clone(), *accepted, i as u64 + 1)));
        *done = self.ops.len();
        ask(memory)
    }

    /// How it stands then.
    pub fn quarantine(&self, now: At) -> Quarantine {
        self.ask(|memory| Quarantine::of(memory, now))
    }

    /// The home club then; the first one if there is none.
    pub fn club(&self, at: At) -> ClubId {
        self.ask(|memory| match memory.state(Entity::ROOM).map(|state| &**state) {
            Some(EntityState::Room(facts)) => facts.club_at(at).unwrap_or(CLUB),
            _ => CLUB,
        })
    }

    /// The unit of a stock.
    pub fn unit(&self, now: At, stock: StockId) -> Unit {
        let quarantine = self.quarantine(now);
        let unit = quarantine.unit_of(stock).unwrap_or_else(|| panic!("not held on day {}", day_of(now)));
        quarantine.units()[unit].clone()
    }

    /// The day on which a stock's unit is due; none: it is in no unit, in the bag, or being treated.
    pub fn due(&self, now: At, stock: StockId) -> Option<i64> {
        let quarantine = self.quarantine(now);
        quarantine.units()[quarantine.unit_of(stock)?].due.map(day_of)
    }

    /// With whom a stock is held, itself among them; nobody if it is not held.
    pub fn with(&self, now: At, stock: StockId) -> Vec<StockId> {
        let quarantine = self.quarantine(now);
        let unit = quarantine.unit_of(stock).map(|unit| quarantine.units()[unit].clone());
        unit.map_or_else(Vec::new, |unit| unit.members.iter().map(|member| member.stock).collect())
    }

    /// Why a stock may not leave.
    pub fn held(&self, now: At, stock: StockId) -> Option<Held> {
        self.quarantine(now).held(stock)
    }

    /// Whether a stock may leave.
    pub fn is_free(&self, now: At, stock: StockId) -> bool {
        self.held(now, stock).is_none()
    }

    /// Whether a stock would be in a unit if some late or withdrawn entry counted otherwise.
    pub fn is_in_doubt(&self, now: At, stock: StockId) -> bool {
        matches!(self.held(now, stock), Some(Held::InDoubt(_)))
    }

    /// What is in the way of a stock's sign-off besides the days.
    pub fn blockers(&self, now: At, stock: StockId) -> Vec<BlockerKind> {
        let quarantine = self.quarantine(now);
        let unit = quarantine.unit_of(stock).unwrap_or_else(|| panic!("not held on day {}", day_of(now)));
        let mut kinds: Vec<BlockerKind> = quarantine.blockers[unit].iter().map(|b| b.kind()).collect();
        kinds.dedup();
        kinds
    }

    /// The entries that are in the way.
    pub fn listed(&self, now: At, stock: StockId) -> Vec<OpId> {
        let quarantine = self.quarantine(now);
        let unit = quarantine.unit_of(stock).unwrap_or_else(|| panic!("not held on day {}", day_of(now)));
        quarantine.blockers[unit].iter().filter_map(|b| b.entry()).collect()
    }

    /// Whether a steward could sign off a stock's unit.
    pub fn is_ready(&self, now: At, stock: StockId) -> bool {
        let quarantine = self.quarantine(now);
        quarantine.unit_of(stock).is_some_and(|unit| quarantine.is_ready(unit))
    }
}

impl Pen<'_> {
    /// The server only hears of it then.
    pub fn known(mut self, at: At) -> Self {
        self.received = Some(Received(at.ms()));
        self
    }

    /// The server hears of it a minute after then, in a push of its own.
    pub fn told(mut self, at: At) -> Self {
        let tick = i64::try_from(self.room.ops.len()).expect("few");
        self.received = Some(Received(at.ms() + 60_000 + tick));
        self
    }

    /// In the push that brought this one.
    pub fn along_with(mut self, entry: OpId) -> Self {
        let there = self.room.ops.iter().find(|(op, _)| op.id == entry);
        self.received = there.and_then(|(_, accepted)| *accepted).map(|accepted| accepted.received);
        self
    }

    /// The server has not heard of it yet.
    pub fn pending(mut self) -> Self {
        self.pending = true;
        self
    }

    /// When it happened.
    pub fn at(&self) -> At {
        self.at
    }

    /// Writes an entry.
    pub fn write(self, body: Body) -> OpId {
        let n = self.room.ops.len();
        let tick = i64::try_from(n).expect("few");
        // Each in a push of its own, unless a test says which.
        let received = self.received.unwrap_or(Received(self.at.ms() + 60_000 + tick));
        let op = Op {
            id: OpId(id(0x1_0000 + u128::try_from(n).expect("few"))),
            device: DeviceId(Uuid::nil()),
            clock: Clock::at_ms(received.0.max(self.at.ms()) + tick),
            at: self.at,
            body,
        };
        let decision = writer(op.body.kind()) == Some(Writer::Decision);
        let accepted = Acceptance { by: AccountId(Uuid::nil()).into(), received, decision };
        let op_id = op.id;
        self.room.ops.push((op, (!self.pending).then_some(accepted)));
        op_id
    }
}
