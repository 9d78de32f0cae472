//! Rooms at random: everything that bears on the clock, told in time, late or in one push, taken back; sign-offs good
//! and bad, waivers, other clubs. The rule is short, so that much happens: six days, a look every three, water for two.

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{BlockerKind, Rule, SharedWater, Waiver};
use tarn_domain::rooms::words::Cause;
use tarn_domain::streams::{At, Days, OpId, StockId, TankId, TreatmentId};
use uuid::Uuid;

use crate::bodies;
use crate::dice::Dice;
use crate::room::{CLUB, LOOP, OTHER, Room, SECOND, SYSTEMS, TANKS, day};

/// Writes a room.
pub struct Author {
    /// Its chance.
    pub dice: Dice,
    /// What it has written.
    pub room: Room,
    /// Up to when.
    pub now: At,
    /// Whether clubs and the room may change their rules on the way.
    pub versions: bool,
    /// Whether stewards sign and waive.
    pub stewards: bool,
    stocks: Vec<(StockId, Option<TankId>)>,
    treatments: Vec<TreatmentId>,
    last: Option<OpId>,
}

/// The n-th thing of the author's.
fn id(n: usize) -> Uuid {
    Uuid::from_u128(0x0190_c000_0000_7000_8000_0000_0000_0000 | u128::try_from(n).expect("small"))
}

fn later(at: At, seconds: i64) -> At {
    At::from_seconds(at.seconds() + seconds)
}

/// A rule under which much happens in few days.
pub fn short(shared_water: SharedWater) -> Rule {
    let days = Days(6);
    Rule { min_days: days, observe_every_days: Days(3), water_days: Days(2), shared_water, ..Rule::shipped() }
}

impl Author {
    /// One room's author.
    pub fn of(seed: u64) -> Self {
        let mut dice = Dice::of(seed);
        let shared = dice.pick(&[SharedWater::Restart, SharedWater::Restart, SharedWater::WaitForLast]);
        let mut room = Room::under(short(shared));
        room.on(day(-90)).rule(SECOND, 1, Rule { min_days: Days(9), ..short(SharedWater::Restart) });
        let (versions, stewards) = (true, true);
        Self {
            dice,
            room,
            now: day(0),
            versions,
            stewards,
            stocks: Vec::new(),
            treatments: Vec::new(),
            last: None,
        }
    }

    /// So many entries.
    pub fn write(&mut self, entries: usize) {
        for _ in 0..entries {
            self.now = later(self.now, self.dice.pick(&[0, 0, 30, 43_200, 86_400, 86_400, 2 * 86_400]));
            let body = self.body();
            let at = self.when();
            self.put(at, body);
        }
    }

    /// When an entry says that it happened: mostly just now.
    fn when(&mut self) -> At {
        let back =
            if self.dice.percent(25) { self.dice.pick(&[3_600, 86_400, 4 * 86_400, 7 * 86_400]) } else { 0 };
        later(self.now, -back)
    }

    fn put(&mut self, at: At, body: Body) -> OpId {
        let now = self.now;
        let (together, last) = (self.dice.percent(15), self.last);
        let decision = is_decision(&body);
        let pen = self.room.on(if decision { now } else { at });
        let pen = match last {
            Some(last) if together && !decision => pen.along_with(last),
            _ => pen.told(now),
        };
        let op = pen.write(body);
        self.last = (!decision).then_some(op);
        op
    }

    /// Any stock, where it is thought to be.
    fn stock(&mut self) -> (usize, StockId, Option<TankId>) {
        let i = self.dice.below(self.stocks.len());
        (i, self.stocks[i].0, self.stocks[i].1)
    }

    /// Any entry.
    pub fn entry(&mut self) -> OpId {
        let i = self.dice.below(self.room.ops.len());
        self.room.ops[i].0.id
    }

    fn place(&mut self) -> Option<TankId> {
        self.dice.percent(88).then(|| self.dice.pick(&TANKS))
    }

    fn new_stock(&mut self, place: Option<TankId>) -> StockId {
        let stock = StockId(id(self.room.ops.len()));
        self.stocks.push((stock, place));
        stock
    }

    /// What somebody writes next.
    pub fn body(&mut self) -> Body {
        let chance = self.dice.below(100);
        if self.stocks.len() < 2 || chance < 14 {
            let place = self.place();
            let stock = self.new_stock(place);
            return match self.dice.below(10) {
                0..5 => bodies::came_in(stock, 10, place),
                5..8 => bodies::home(stock, 10, place),
                _ => bodies::young(stock, 20, place),
            };
        }
        match chance {
            14..52 => self.about_fish(chance),
            52..78 => self.about_water(chance),
            78..84 => bodies::withdrawn(self.entry()),
            84..88 if self.versions => self.about_clubs(),
            88.. if self.stewards => self.steward(),
            _ => bodies::look(&[self.dice.pick(&TANKS), self.dice.pick(&TANKS)]),
        }
    }

    fn about_fish(&mut self, chance: usize) -> Body {
        let (i, stock, place) = self.stock();
        match chance {
            14..30 => {
                let to = self.place();
                let from = if self.dice.percent(88) { place } else { self.place() };
                self.stocks[i].1 = to;
                bodies::moved(stock, from, to, self.dice.percent(10))
            }
            30..36 => {
                let (n, tank) = (self.dice.pick(&[2, 5, 12]), self.place());
                let new = self.new_stock(tank);
                bodies::split(stock, new, n, tank)
            }
            36..41 => {
                let into = self.stock().1;
                bodies::merged(stock, into, self.dice.pick(&[2, 10]))
            }
            41..44 => bodies::counted(stock, self.dice.pick(&[0, 5, 10, 12])),
            44..50 => {
                let cause = self.dice.pick(&[Cause::Unknown, Cause::Jumped, Cause::OldAge, Cause::Culled]);
                bodies::lost(stock, self.dice.pick(&[1, 3, 10]), cause, None)
            }
            _ => bodies::left(stock, self.dice.pick(&[1, 3])),
        }
    }

    fn about_water(&mut self, chance: usize) -> Body {
        let tank = self.dice.pick(&TANKS);
        match chance {
            52..56 => {
                let system = self.dice.pick(&[Some(LOOP), Some(OTHER), None]);
                bodies::plumbed(tank, system)
            }
            56..58 => {
                let host = self.dice.percent(60).then(|| self.dice.pick(&TANKS));
                bodies::hung(tank, host)
            }
            58..60 => bodies::joined(LOOP, self.dice.percent(60).then_some(OTHER)),
            60..62 if self.dice.percent(70) => bodies::emptied(Some(tank), None),
            60..62 => bodies::emptied(None, Some(self.dice.pick(&SYSTEMS))),
            62..64 => {
                let treatment = TreatmentId(id(self.room.ops.len()));
                self.treatments.push(treatment);
                bodies::treated(treatment, Some(tank), None)
            }
            64..67 if !self.treatments.is_empty() => {
                bodies::treatment_ended(self.dice.pick(&self.treatments))
            }
            67..69 => bodies::sign(Some(self.stock().1), None, None),
            69..70 => bodies::sign(None, Some(tank), Some(later(self.now, -86_400))),
            70..71 => bodies::restarted(self.stock().1, self.now),
            _ => bodies::look(&TANKS),
        }
    }

    fn about_clubs(&mut self) -> Body {
        let days = self.dice.pick(&[3, 5, 8]);
        let rule = Rule { min_days: Days(days), ..short(SharedWater::Restart) };
        let version = u32::try_from(self.room.ops.len()).expect("few");
        match self.dice.below(4) {
            0 => bodies::adopted(CLUB, version, self.now, rule),
            1 => bodies::own_rule(Some(rule)),
            _ => bodies::home_club(self.dice.pick(&[Some(CLUB), Some(SECOND), None]), self.now),
        }
    }

    /// A steward signs off a unit, mostly one that is due, or lets something pass.
    fn steward(&mut self) -> Body {
        let quarantine = self.room.quarantine(self.now);
        let done: Vec<usize> =
            (0..quarantine.units().len()).filter(|i| quarantine.units()[*i].is_done(self.now)).collect();
        if self.dice.percent(55) {
            let from = if done.is_empty() { (0..quarantine.units().len()).collect() } else { done };
            if !from.is_empty() {
                let unit = &quarantine.units()[self.dice.pick(&from)];
                let mut members: Vec<StockId> = unit.members.iter().map(|member| member.stock).collect();
                if self.dice.percent(8) {
                    members.pop();
                }
                return bodies::cleared(&members, self.room.club(self.now));
            }
        }
        let blockers: Vec<_> = quarantine.blockers.iter().flatten().copied().collect();
        let why = "seen".to_owned();
        let waiver = if blockers.is_empty() {
            let (blocker, entry) = (BlockerKind::RecordedLate, Some(self.entry()));
            Waiver { blocker, entry, stock: None, until: None, why }
        } else {
            let blocker = self.dice.pick(&blockers);
            let stock = quarantine.units().iter().flat_map(|unit| &unit.gaps).map(|gap| gap.stock).next();
            let (kind, entry) = (blocker.kind(), blocker.entry());
            Waiver { blocker: kind, entry, stock, until: Some(self.now), why }
        };
        if self.dice.percent(15) { bodies::judged(self.entry()) } else { bodies::waived(vec![waiver]) }
    }
}

fn is_decision(body: &Body) -> bool {
    body.writer() == tarn_domain::catalogue::Writer::Decision
}
