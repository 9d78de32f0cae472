//! What an entry says, in a few words. On the page of one stock it is not named again.

use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::{HourlyReading, Reading, StockDescribed};
use tarn_domain::rooms::water::kept_in;
use tarn_domain::rooms::words::Measure;
use tarn_domain::rooms::{Node, Row, Sex};
use tarn_domain::streams::{Patch, StockId, TankId};

use super::names::{Names, litres, rows_in_numbers, thousandths};
use crate::platform::day::Wall;
use crate::platform::words::{RunKind, Words};

/// Who speaks: names, the room's clock, and the stock whose page it is.
#[derive(Clone, Copy)]
pub struct Teller<'a> {
    /// What things are called.
    pub names: Names<'a>,
    /// The room's clock.
    pub wall: Wall,
    /// The stock that need not be named.
    pub about: Option<StockId>,
    /// Whether a stock is called by its tank.
    pub by_tank: bool,
}

/// A reading as it is kept: "24.6 °C", "pH 7.1", "nitrate 20 mg/L NO3".
pub fn reading(value: &Reading) -> String {
    let (number, unit) = (thousandths(value.milli), kept_in(value.what));
    match value.what {
        Measure::Ph => format!("pH\u{a0}{number}"),
        Measure::Temperature => format!("{number}\u{a0}{unit}"),
        what => format!("{} {number}\u{a0}{unit}", what.plain()),
    }
}

/// Several readings.
pub fn readings<'a>(values: impl IntoIterator<Item = &'a Reading>) -> String {
    values.into_iter().map(reading).collect::<Vec<_>>().join(", ")
}

fn quoted(text: &str) -> String {
    format!("\u{201c}{}\u{201d}", text.trim())
}

fn with_remark(text: &str, remark: Option<&String>) -> String {
    remark.map_or_else(|| text.to_owned(), |remark| format!("{text}: {}", quoted(remark)))
}

fn sex(sex: Sex) -> &'static str {
    match sex {
        Sex::Male => "male",
        Sex::Female => "female",
        Sex::Unsexed => "unsexed",
        Sex::Eggs => "eggs",
        Sex::Any => "of whichever sex",
    }
}

impl Teller<'_> {
    /// What an entry says.
    pub fn tell(&self, body: &Body) -> Words {
        match body {
            Body::StockEstablished(b) => self.with(b.stock, "here before the records", &b.rows, b.tank),
            Body::StockCameIn(b) => {
                let source = b.source.as_ref().map_or_else(String::new, |source| format!(" ({source})"));
                self.with(b.stock, &format!("came from {}{source}", b.from.plain()), &b.rows, b.tank)
            }
            Body::ParcelArrived(b) => {
                let words = self.with(b.stock, "came by parcel", &b.alive, b.tank);
                if b.dead.is_empty() {
                    return words;
                }
                words.and(RunKind::Plain, format!("; {} came dead", rows_in_numbers(&b.dead)))
            }
            Body::YoungFound(b) => self.with(b.stock, "young found", &b.rows, b.tank),
            Body::EggsCollected(b) => {
                let rows = [Row { node: Node::Of(b.brood), sex: Sex::Eggs, n: b.n, about: b.about }];
                self.with(b.stock, "collected", &rows, b.tank)
            }
            Body::EggsHatched(b) => {
                let n: i64 = b.rows.iter().map(|row| row.n.get()).sum();
                self.line(b.stock, &format!("{n}\u{a0}eggs hatched"))
            }
            Body::StockDescribed(b) => self.line(b.stock, &described(b)),
            Body::StockMoved(b) => {
                let (from, to) = (self.names.place(b.from), self.names.place(b.to));
                self.line(b.stock, &format!("moved from {from} to {to}"))
            }
            Body::StockSplit(b) => self.between(b.stock, b.new, "split off", &b.rows),
            Body::StockMerged(b) => self.between(b.stock, b.into, "put together with others", &b.rows),
            Body::StockCounted(b) => {
                let all = if b.all { "all of them" } else { "not all of them" };
                self.line(b.stock, &format!("counted {}, {all}", rows_in_numbers(&b.rows)))
            }
            Body::StockSexed(b) => {
                let turned: Vec<String> = b
                    .rows
                    .iter()
                    .map(|row| format!("{} {} turned out {}", row.n.get(), sex(row.from), sex(row.to)))
                    .collect();
                self.line(b.stock, &turned.join(", "))
            }
            Body::StockLost(b) => {
                let lost = format!("{} lost, {}", rows_in_numbers(&b.rows), b.cause.plain());
                self.line(b.stock, &with_remark(&lost, b.reason.as_ref()))
            }
            Body::StockLeft(b) => {
                self.line(b.stock, &format!("{} left for {}", rows_in_numbers(&b.rows), b.to.plain()))
            }
            Body::ParcelPacked(b) => {
                let to = b.to.as_ref().map_or_else(String::new, |to| format!(" for {to}"));
                let n: i64 = b.rows.iter().map(|row| row.n.get()).sum();
                Words::plain(format!("{n} packed into a parcel{to}"))
            }
            Body::ParcelHanded(_) => Words::plain("a parcel was handed over"),
            Body::ParcelSent(b) => {
                let mine = |stock| self.about.is_none_or(|about| about == stock);
                let n: i64 = b.rows.iter().filter(|row| mine(row.stock)).map(|row| row.n.get()).sum();
                Words::plain(format!("{n} left by parcel"))
            }
            Body::SystemSet(b) => Words::plain(format!("water {} written down", self.names.system(b.system))),
            Body::TankAdded(b) => Words::plain(format!("tank {} added", b.name)),
            Body::TankDescribed(b) => Words::plain(format!("tank {} described", self.names.tank(b.tank))),
            Body::TankPlumbed(b) => {
                let water = b.system.map_or_else(
                    || "on its own water".to_owned(),
                    |system| format!("on the water of {}", self.names.system(system)),
                );
                Words::plain(format!("tank {} {water}", self.names.tank(b.tank)))
            }
            Body::Withdrawn(b) => Words::plain(with_remark("took an entry back", b.why.as_ref())),
            Body::RuleAdopted(b) => {
                Words::plain(format!("the club\u{2019}s quarantine rule, version {}", b.version))
            }
            Body::HomeClubSet(b) => Words::plain(match b.club {
                Some(_) => "a home club was named",
                None => "no home club any more",
            }),
            Body::QuarantineCleared(b) => {
                Words::plain(format!("cleared by a club steward after {} days", b.held.0))
            }
            _ => self.log(body),
        }
    }

    /// What was seen or done, and changes no state.
    fn log(&self, body: &Body) -> Words {
        Words::plain(match body {
            Body::FoodGiven(b) => {
                let food = b.amount.as_ref().map_or_else(|| b.food.clone(), |n| format!("{}, {n}", b.food));
                format!("fed {food}{}", self.tanks(&b.tanks))
            }
            Body::WaterRead(b) => {
                let water = match (b.system, b.tank) {
                    (Some(system), _) => format!(" of {}", self.names.system(system)),
                    (None, Some(tank)) => format!(" of {}", self.names.tank(tank)),
                    (None, None) => String::new(),
                };
                format!("water{water}: {}", readings(&b.values))
            }
            Body::WaterLogged(b) => {
                let water = match (b.system, b.tank) {
                    (Some(system), _) => format!(" of {}", self.names.system(system)),
                    (None, Some(tank)) => format!(" of {}", self.names.tank(tank)),
                    (None, None) => String::new(),
                };
                let spreads: Vec<String> = b.values.iter().map(HourlyReading::spread).collect();
                format!("water{water}, by a probe: {} ({})", readings(&b.means().values), spreads.join("; "))
            }
            Body::SignSeen(b) => {
                let place = b.tank.map_or_else(String::new, |tank| format!(" in {}", self.names.tank(tank)));
                let last = b
                    .last_seen
                    .map_or_else(String::new, |at| format!(", last seen {}", self.wall.moment(at.seconds())));
                return self.of_fish(b.stock, &format!("sign seen{place}: {}{last}", b.sign.trim()));
            }
            Body::LookDone(b) => {
                with_remark(&format!("looked at{}", self.tanks(&b.tanks)), b.remark.as_ref())
            }
            Body::JobDone(b) => {
                let share = b.percent.map(|percent| format!("{percent}\u{a0}%"));
                let much: Vec<String> = share.into_iter().chain(b.volume_ml.map(litres)).collect();
                let place = match (b.system, b.tank) {
                    (Some(system), _) => format!(", {}", self.names.system(system)),
                    (None, Some(tank)) => format!(", {}", self.names.tank(tank)),
                    (None, None) => String::new(),
                };
                let much = if much.is_empty() { String::new() } else { format!(" {}", much.join(", ")) };
                format!("{}{much}{place}", b.job.trim())
            }
            Body::NoteWritten(b) => {
                let place = b.tank.map_or_else(String::new, |tank| format!(" on {}", self.names.tank(tank)));
                return self.of_fish(b.stock, &format!("note{place}: {}", quoted(&b.text)));
            }
            other => return self.rare(other).unwrap_or_else(|| Words::plain(other.kind())),
        })
    }

    /// A log that may be about one stock.
    fn of_fish(&self, stock: Option<StockId>, text: &str) -> Words {
        stock.map_or_else(|| Words::plain(text), |stock| self.line(stock, text))
    }

    /// Which tanks; on a stock's own page that is plain.
    fn tanks(&self, tanks: &[TankId]) -> String {
        if self.about.is_some() {
            return String::new();
        }
        let names: Vec<String> = tanks.iter().take(3).map(|tank| self.names.tank(*tank)).collect();
        match tanks.len() {
            0 => String::new(),
            1..=3 => format!(" in {}", names.join(", ")),
            more => format!(" in {} and {} more", names.join(", "), more - 3),
        }
    }

    fn named(&self, stock: StockId) -> Words {
        let tank = self.names.states.stocks.get(&stock).and_then(|s| s.place()).flatten();
        match (self.about == Some(stock), tank) {
            (true, _) => Words::default(),
            (false, Some(tank)) if self.by_tank => Words::plain(format!("{}: ", self.names.tank(tank))),
            (false, _) => self.names.stock(stock).and(RunKind::Plain, ": "),
        }
    }

    fn line(&self, stock: StockId, text: &str) -> Words {
        self.named(stock).and(RunKind::Plain, text)
    }

    fn with(&self, stock: StockId, how: &str, rows: &[Row], tank: Option<TankId>) -> Words {
        let place = match tank {
            Some(tank) => format!(", into {}", self.names.tank(tank)),
            None => ", in no tank".to_owned(),
        };
        self.line(stock, &format!("{how}: {}{place}", rows_in_numbers(rows)))
    }

    /// Fish that went from one stock into another.
    fn between(&self, from: StockId, into: StockId, how: &str, rows: &[Row]) -> Words {
        let n = rows_in_numbers(rows);
        let (here, other, way) =
            if self.about == Some(into) { (into, from, "from") } else { (from, into, "into") };
        let mut words = self.line(here, &format!("{n} {how}, {way} "));
        words.runs.extend(self.names.stock(other).runs);
        words
    }
}

fn described(b: &StockDescribed) -> String {
    fn one(what: &str, patch: &Patch<String>) -> Option<String> {
        match patch {
            Patch::Keep => None,
            Patch::Clear => Some(format!("no {what} any more")),
            Patch::Set(value) => Some(format!("{what} {}", quoted(value))),
        }
    }
    let keeping = match &b.keeping {
        Patch::Keep => None,
        Patch::Clear => Some("no way of keeping any more".to_owned()),
        Patch::Set(keeping) => Some(format!("kept as {}", keeping.plain())),
    };
    let all: Vec<String> = [
        one("name", &b.name),
        one("species", &b.species),
        one("form", &b.form),
        keeping,
        one("remark", &b.note),
    ]
    .into_iter()
    .flatten()
    .collect();
    format!("described: {}", all.join(", "))
}
