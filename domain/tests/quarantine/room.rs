//! Rooms at random: few tanks, fish from outside and from here, moved, split, put together, re-plumbed, treated, ill,
//! lost, found, counted, looked at; clubs with other rules. Days are few and full half days, so that much falls together.

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{RestartOn, Rule, SharedWater};
use tarn_domain::rooms::ops::{StockLost, StockMerged, StockMoved, StockSplit};
use tarn_domain::rooms::words::{CameFrom, Cause};
use tarn_domain::streams::{At, ClubId, Days, OpId, StockId, SystemId, TankId, TreatmentId};

use crate::dice::Dice;
use crate::ops::{
    Record, adopted, arrived, came_from, counted, day, emptied, fish, home, home_club, hung, id, joined,
    judged, left, looked, moved, own_rule, plumbed, restarted, sign, system, tank, treated, treated_until,
    young,
};

const TANKS: usize = 4;
const SYSTEMS: usize = 2;

/// The clubs.
pub fn club(n: usize) -> ClubId {
    ClubId(id(200 + n))
}

/// Where the author thinks things are.
struct Author {
    dice: Dice,
    record: Record,
    stocks: Vec<(StockId, Option<TankId>)>,
    treatments: Vec<TreatmentId>,
    losses: Vec<OpId>,
}

/// A random record over some forty days, without sign-offs.
pub fn random(seed: u64) -> (Record, Dice) {
    let mut dice = Dice::of(seed);
    let mut record = Record::default();
    for n in 0..SYSTEMS {
        record.write(day(0), system(SystemId(id(100 + n))));
    }
    for n in 0..TANKS {
        record.write(day(0), tank(TankId(id(n))));
        if dice.percent(45) {
            let system = Some(SystemId(id(100 + dice.below(SYSTEMS))));
            record.write(day(0), plumbed(TankId(id(n)), system));
        }
    }
    let mut author = Author { dice, record, stocks: Vec::new(), treatments: Vec::new(), losses: Vec::new() };
    if author.dice.percent(85) {
        let (rule, club) = (author.rule(), club(author.dice.below(2)));
        author.record.write(day(0), adopted(club, 1, day(0), rule));
        author.record.write(day(0), home_club(Some(club), day(0)));
    }
    let mut now = day(0);
    let steps = 5 + author.dice.below(18);
    for n in 0..steps {
        let on = author.dice.pick(&[0, 0, 43_200, 43_200, 86_400, 2 * 86_400, 5 * 86_400]);
        now = At::from_seconds(now.seconds() + on);
        author.step(n, now);
    }
    (author.record, author.dice)
}

impl Author {
    fn days(&mut self, most: i64) -> Days {
        Days(u16::try_from(self.dice.of_range(1..most)).expect("few"))
    }

    fn rule(&mut self) -> Rule {
        let shared_water = self.dice.pick(&[SharedWater::Restart, SharedWater::WaitForLast]);
        let on = [RestartOn::Sign, RestartOn::UnexplainedLoss];
        let mut rule = Rule {
            min_days: self.days(12),
            observe_every_days: self.days(6),
            restart_on: on.into_iter().filter(|_| self.dice.percent(80)).collect(),
            shared_water,
            fry_days: self.days(30),
            fry_loss_percent: self.dice.pick(&[5, 20, 40]),
            named_loss_percent: self.dice.pick(&[0, 20, 50]),
            water_days: Days(self.dice.pick(&[0, 2, 4, 6])),
            ..Rule::shipped()
        };
        if self.dice.percent(25) {
            let word = self.dice.pick(&["shop", "wild", "parcel"]).to_owned();
            rule.days_from.insert(word, self.days(16));
        }
        if self.dice.percent(20) {
            let name = self.dice.pick(&["Danio", "Danio rerio"]).to_owned();
            rule.days_of.insert(name, self.days(16));
        }
        rule
    }

    fn tank(&mut self) -> TankId {
        TankId(id(self.dice.below(TANKS)))
    }

    fn system(&mut self) -> SystemId {
        SystemId(id(100 + self.dice.below(SYSTEMS)))
    }

    fn place(&mut self) -> Option<TankId> {
        self.dice.percent(88).then(|| self.tank())
    }

    /// One without fish, if there is any.
    fn left(&mut self) -> TankId {
        let any = self.tank();
        let is_left = |tank: &TankId| self.stocks.iter().all(|(_, place)| *place != Some(*tank));
        [any].into_iter().chain((0..TANKS).map(|n| TankId(id(n)))).find(is_left).unwrap_or(any)
    }

    /// Mostly one that is occupied.
    fn tank_of(&mut self, place: Option<TankId>) -> TankId {
        let any = self.tank();
        if self.dice.percent(80) { place.unwrap_or(any) } else { any }
    }

    fn step(&mut self, n: usize, now: At) {
        let new = StockId(id(1000 + n));
        let chance = if n < 3 { self.dice.below(20) } else { self.dice.below(100) };
        // Some are only written down later, and some are received later still.
        let at = if self.dice.percent(10) { At::from_seconds(now.seconds() - 4 * 86_400) } else { now };
        let late = self.dice.pick(&[0, 0, 0, 43_200, 3 * 86_400]);
        let received = At::from_seconds(now.seconds() + late);
        let body = if self.stocks.is_empty() || chance < 20 {
            Some(self.comes(new, chance))
        } else if chance < 63 {
            let i = self.dice.below(self.stocks.len());
            Some(self.fish(new, i, chance))
        } else if chance < 90 {
            Some(self.water(n, chance, at))
        } else {
            self.decides(n, chance, now)
        };
        let Some(body) = body else { return };
        let lost = matches!(body, Body::StockLost(_) | Body::StockLeft(_));
        let op = self.record.write_late(at, received, body);
        if lost {
            self.losses.push(op);
        }
    }

    fn comes(&mut self, new: StockId, chance: usize) -> Body {
        let place = self.place();
        self.stocks.push((new, place));
        let species = self.dice.pick(&[None, None, Some("Danio rerio"), Some("Danio")]);
        let from = self.dice.pick(&[CameFrom::Shop, CameFrom::Wild, CameFrom::Person]);
        match chance % 20 {
            0..8 => came_from((new, from), 10, place, species),
            8..10 => arrived(new, 10, place),
            10..17 => home(new, 10, place),
            _ => young(new, place),
        }
    }

    fn fish(&mut self, new: StockId, i: usize, chance: usize) -> Body {
        let (stock, place) = self.stocks[i];
        match chance {
            20..33 => {
                let to = if self.dice.percent(25) { Some(self.left()) } else { self.place() };
                self.stocks[i].1 = to;
                let from = if self.dice.percent(88) { place } else { self.place() };
                Body::StockMoved(StockMoved { stock, from, to, companion: self.dice.percent(25) })
            }
            33..39 => {
                let tank = self.place();
                self.stocks.push((new, tank));
                let rows = fish(self.dice.of_range(0..4));
                Body::StockSplit(StockSplit { stock, new, rows, tank, name: None })
            }
            39..44 => {
                let into = self.dice.pick(&self.stocks).0;
                Body::StockMerged(StockMerged { stock, into, rows: fish(self.dice.pick(&[2, 10])) })
            }
            44..54 => {
                let rows = fish(self.dice.pick(&[0, 1, 1, 2, 4, 10]));
                let named = self.dice.pick(&[Cause::OldAge, Cause::Jumped, Cause::Culled, Cause::Culled]);
                let cause = if self.dice.percent(60) { named } else { self.dice.pick(Cause::ALL) };
                let reason = self.dice.pick(&[None, Some(" "), Some("bent spine")]).map(str::to_owned);
                Body::StockLost(StockLost { stock, rows, cause, reason, incident: None })
            }
            54..57 => left(stock, self.dice.pick(&[1, 2, 10])),
            _ => counted(stock, self.dice.pick(&[0, 5, 8, 9, 11, 20])),
        }
    }

    fn water(&mut self, n: usize, chance: usize, at: At) -> Body {
        let (stock, place) = self.dice.pick(&self.stocks);
        match chance {
            63..69 => {
                let system = self.dice.percent(50).then(|| self.system());
                plumbed(self.tank(), system)
            }
            69..71 => {
                let with = self.dice.percent(50).then(|| self.system());
                joined(self.system(), with)
            }
            71..74 => {
                let within = self.dice.percent(50).then(|| self.tank());
                hung(self.tank(), within)
            }
            74..78 => match self.dice.below(8) {
                0..1 => emptied(Some(self.tank()), None),
                1..6 => self.swaps(at),
                6..7 => emptied(None, Some(self.system())),
                _ => emptied(Some(self.tank()), Some(self.system())),
            },
            78..83 => {
                if !self.treatments.is_empty() && self.dice.percent(55) {
                    return treated_until(self.dice.pick(&self.treatments));
                }
                let treatment = TreatmentId(id(300 + n));
                self.treatments.push(treatment);
                let tank = self.tank_of(place);
                if self.dice.percent(70) {
                    treated(treatment, Some(tank), None)
                } else {
                    treated(treatment, self.dice.percent(20).then_some(tank), Some(self.system()))
                }
            }
            83..86 => {
                let seen = At::from_seconds(at.seconds() - self.dice.pick(&[0, 43_200, 86_400]));
                let last_seen = self.dice.percent(40).then_some(seen);
                match self.dice.below(5) {
                    0..3 => sign(Some(stock), None, last_seen),
                    3 => sign(None, Some(self.tank_of(place)), last_seen),
                    _ => sign(Some(stock), Some(self.tank()), last_seen),
                }
            }
            86..89 => {
                let mut tanks = vec![self.tank_of(place)];
                if self.dice.percent(40) {
                    tanks.push(self.tank());
                }
                looked(tanks)
            }
            _ => restarted(stock, At::from_seconds(at.seconds() - self.dice.pick(&[0, 86_400]))),
        }
    }

    /// Fish go out of a tank; it is emptied, or not; others go in.
    fn swaps(&mut self, at: At) -> Body {
        let (i, j) = (self.dice.below(self.stocks.len()), self.dice.below(self.stocks.len()));
        let ((out, place), (inn, there)) = (self.stocks[i], self.stocks[j]);
        let Some(tank) = place else { return emptied(Some(self.left()), None) };
        if self.dice.percent(60) {
            self.record.write(at, plumbed(tank, None));
        }
        let to = self.left();
        self.stocks[i].1 = Some(to);
        self.record.write(at, moved(out, place, Some(to)));
        let later = At::from_seconds(at.seconds() + 43_200 * self.dice.of_range(0..6));
        if self.dice.percent(60) {
            self.record.write(later, emptied(Some(tank), None));
        }
        self.stocks[j].1 = Some(tank);
        self.record.write(later, moved(inn, if i == j { Some(to) } else { there }, Some(tank)));
        looked(vec![tank])
    }

    fn decides(&mut self, n: usize, chance: usize, now: At) -> Option<Body> {
        let version = u32::try_from(n + 2).expect("few");
        let club = club(self.dice.below(2));
        match chance {
            90..93 => {
                let rule = self.rule();
                Some(adopted(club, version, now, rule))
            }
            93..96 => Some(home_club(self.dice.percent(85).then_some(club), now)),
            96..97 => {
                let rule = self.rule();
                Some(own_rule(self.dice.percent(80).then_some(rule)))
            }
            _ => {
                if self.losses.is_empty() {
                    return None;
                }
                Some(judged(self.dice.pick(&self.losses)))
            }
        }
    }
}
