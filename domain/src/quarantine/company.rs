//! Who shared water with whom, when; a bag is a water of its own. Fish that become or join another stock take along
//! whom they were with. Must not judge.

use std::collections::HashMap;

use super::moment::Stock;
use super::water::{News, Water};
use crate::streams::{At, Days};

/// What stocks may be in together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Place {
    Water(Water),
    Bag(Stock),
}

/// A stock was in a place from then to then. Of several things at one instant the turns tell which came first.
#[derive(Debug, Clone, Copy)]
struct Stint {
    stock: Stock,
    place: Place,
    from: (u64, At),
    /// When it went; none: it is there.
    until: Option<(u64, At)>,
    /// It was still there at that instant.
    to_the_last: bool,
    /// The stock's stint before it, and the place's.
    before: (Option<usize>, Option<usize>),
}

impl Stint {
    /// Its turns; one that lasts has no last.
    fn turns(&self) -> (u64, u64) {
        (self.from.0, self.until.map_or(u64::MAX, |until| until.0))
    }

    /// The time that two were in one place; none if they never were.
    fn both(&self, other: &Self) -> Option<Self> {
        let ((from, until), (theirs, end)) = (self.turns(), other.turns());
        let first = if until <= end { self } else { other };
        (from < end && theirs < until).then(|| Self { from: self.from.max(other.from), ..*first })
    }

    /// Whether any of it lies after an instant, or begins at it.
    fn counts(&self, begin: i64) -> bool {
        self.until.is_none_or(|(_, until)| {
            let until = until.seconds();
            until > begin || (until == begin && self.to_the_last)
        }) || self.from.1.seconds() >= begin
    }
}

/// All that shared water so far.
#[derive(Debug, Clone)]
pub(super) struct Company {
    stints: Vec<Stint>,
    /// The last stint of each stock, and the one that lasts.
    of: Vec<Option<usize>>,
    open: Vec<Option<usize>>,
    /// The last stint in each place.
    places: HashMap<Place, usize>,
    turn: u64,
    /// Whoever goes now was still there at this instant.
    to_the_last: bool,
    /// The longest time back that anybody asks for.
    longest: Days,
}

impl Company {
    /// Of no stocks yet; nobody asks for what is further back than so many days.
    pub fn new(longest: Days) -> Self {
        Self {
            stints: Vec::new(),
            of: Vec::new(),
            open: Vec::new(),
            places: HashMap::new(),
            turn: 0,
            to_the_last: false,
            longest,
        }
    }

    /// Makes room for so many stocks.
    pub fn grow(&mut self, stocks: usize) {
        self.of.resize(stocks, None);
        self.open.resize(stocks, None);
    }

    /// From now on those in a water share it with one another and with nobody else.
    pub fn set(&mut self, water: Water, stocks: &[Stock], news: News, at: At) {
        self.turn += 1;
        let place = Place::Water(water);
        match news {
            News::New => stocks.iter().for_each(|stock| self.put(*stock, place, at)),
            News::None => {}
            News::Moved(moved) => {
                for stock in moved {
                    let is_there = stocks.binary_search(&stock).is_ok();
                    let was_there = self.place_of(stock) == Some(place);
                    match (was_there, is_there) {
                        (false, true) => self.put(stock, place, at),
                        (true, false) => self.end(stock, at),
                        _ => {}
                    }
                }
            }
        }
    }

    /// A stock is in a bag by itself.
    pub fn bag(&mut self, stock: Stock, at: At) {
        if self.place_of(stock) != Some(Place::Bag(stock)) {
            self.turn += 1;
            self.put(stock, Place::Bag(stock), at);
        }
    }

    /// A stock is with nobody any more.
    pub fn end(&mut self, stock: Stock, at: At) {
        if let Some(open) = self.open[stock].take() {
            let stint = &mut self.stints[open];
            (stint.until, stint.to_the_last) = (Some((self.turn, at)), self.to_the_last);
        }
    }

    /// Whether those that go from now on were still there at the instant of their going.
    pub fn stay_to_the_last(&mut self, to_the_last: bool) {
        self.turn += 1;
        self.to_the_last = to_the_last;
    }

    /// Fish of one stock become, or join, another: they were with whom they were with. Several of one instant have no
    /// order among themselves.
    pub fn hand_on(&mut self, pairs: &[(Stock, Stock)], at: At) {
        self.turn += 1;
        for _ in 0..pairs.len() {
            let mut changed = false;
            for &(from, into) in pairs {
                changed |= self.inherit(from, into, at);
            }
            if !changed {
                break;
            }
        }
    }

    fn place_of(&self, stock: Stock) -> Option<Place> {
        self.open[stock].map(|open| self.stints[open].place)
    }

    fn put(&mut self, stock: Stock, place: Place, at: At) {
        self.end(stock, at);
        let from = (self.turn, at);
        let (until, to_the_last, before) = (None, false, (None, None));
        self.open[stock] = Some(self.add(Stint { stock, place, from, until, to_the_last, before }));
    }

    /// A stock's stints, the last first.
    fn of(&self, stock: Stock) -> impl Iterator<Item = &Stint> {
        let last = self.of[stock].map(|last| &self.stints[last]);
        std::iter::successors(last, |stint| Some(&self.stints[stint.before.0?]))
    }

    fn add(&mut self, stint: Stint) -> usize {
        let no = self.stints.len();
        let before = (self.of[stint.stock].replace(no), self.places.insert(stint.place, no));
        self.stints.push(Stint { before, ..stint });
        no
    }

    fn inherit(&mut self, from: Stock, into: Stock, at: At) -> bool {
        let begin = at.seconds() - i64::from(self.longest.0) * 86_400;
        let known: Vec<&Stint> = self.of(into).collect();
        let lately = self.of(from).filter(|stint| stint.counts(begin));
        let new: Vec<Stint> = lately
            .map(|stint| Stint { stock: into, until: stint.until.or(Some((self.turn, at))), ..*stint })
            .filter(|stint| {
                let (from, until) = stint.turns();
                let covers = |own: &&Stint| {
                    own.place == stint.place && own.turns().0 <= from && until <= own.turns().1
                };
                !known.iter().any(covers)
            })
            .collect();
        for stint in &new {
            self.add(*stint);
        }
        !new.is_empty()
    }

    /// Everybody who shared water with a stock in the `seconds` before an instant or at it, itself among them.
    pub fn within(&self, stock: Stock, at: At, seconds: i64) -> Vec<Stock> {
        let begin = at.seconds() - seconds;
        let mut all = vec![stock];
        for own in self.of(stock).filter(|own| own.counts(begin)) {
            let last = self.places.get(&own.place).map(|last| &self.stints[*last]);
            let there = std::iter::successors(last, |stint| Some(&self.stints[stint.before.1?]));
            let met = there.filter(|other| own.both(other).is_some_and(|both| both.counts(begin)));
            all.extend(met.map(|other| other.stock));
        }
        all.sort_unstable();
        all.dedup();
        all
    }
}
