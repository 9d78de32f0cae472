//! Who shares water with whom while the records are read in order of time. A water is found once and then kept up to
//! date, until something is plumbed or hung otherwise. Must not know what a quarantine is.

use super::moment::{Stock, System, Tank};

/// Everything that shares a water at one moment.
#[derive(Debug, Clone, Default)]
pub(super) struct Shared {
    /// The stocks, in order.
    pub stocks: Vec<Stock>,
    /// The tanks and sumps, in order.
    pub tanks: Vec<Tank>,
}

/// A water: a number that no other ever has.
pub(super) type Water = usize;

/// A water that was found, and what changed in it since somebody asked.
#[derive(Debug, Clone, Default)]
struct Found {
    shared: Shared,
    /// How many of its stocks are marked.
    marked: usize,
    /// In which round it was last seen.
    seen: u32,
    news: News,
}

/// What changed in a water.
#[derive(Debug, Clone, Default)]
pub(super) enum News {
    /// It is a new one.
    #[default]
    New,
    /// Nothing changed.
    None,
    /// Stocks left it or came into it, some of them perhaps both.
    Moved(Vec<Stock>),
}

/// Where everything is at one moment. A stock is in more than one place only while a doubtful stay lasts; a stock in
/// the bag is a water of its own.
#[derive(Debug, Clone)]
pub(super) struct Waters {
    system_of: Vec<Option<System>>,
    tanks_of: Vec<Vec<Tank>>,
    /// The tank that a box hangs in, and the boxes that hang in a tank.
    host_of: Vec<Option<Tank>>,
    boxes_in: Vec<Vec<Tank>>,
    /// The system that a system said it shares its water with, and those that said so of it.
    pipe_of: Vec<Option<System>>,
    pipes_to: Vec<Vec<System>>,
    /// The stocks of each tank, each as often as it has a stay there.
    stocks_in: Vec<Vec<Stock>>,
    /// Where each stock is, as often.
    places_of: Vec<Vec<Option<Tank>>>,
    /// How many stocks are in two places.
    doubled: usize,
    /// Stocks that are marked, to be counted by water.
    marked: Vec<bool>,
    /// The water of each tank, where it is known.
    water_of: Vec<Option<Water>>,
    found: Vec<Found>,
    round: u32,
    tanks: usize,
}

impl Waters {
    /// So many of each, nothing anywhere. After the tanks come the sumps of the systems.
    pub fn new(tanks: usize, systems: usize) -> Self {
        let all = tanks + systems;
        let system_of = (0..all).map(|tank| tank.checked_sub(tanks)).collect();
        Self {
            system_of,
            tanks_of: (0..systems).map(|system| vec![tanks + system]).collect(),
            host_of: vec![None; all],
            boxes_in: vec![Vec::new(); all],
            pipe_of: vec![None; systems],
            pipes_to: vec![Vec::new(); systems],
            stocks_in: vec![Vec::new(); all],
            places_of: Vec::new(),
            doubled: 0,
            marked: Vec::new(),
            water_of: vec![None; all],
            found: Vec::new(),
            round: 0,
            tanks,
        }
    }

    /// Makes room for so many stocks.
    pub fn grow(&mut self, stocks: usize) {
        self.places_of.resize(stocks, Vec::new());
        self.marked.resize(stocks, false);
    }

    /// A tank joins a system's water, or stands alone.
    pub fn plumb(&mut self, tank: Tank, system: Option<System>) {
        self.forget(tank);
        if let Some(old) = self.system_of[tank] {
            self.tanks_of[old].retain(|there| *there != tank);
        }
        if let Some(new) = system {
            self.forget(self.sump(new));
            self.tanks_of[new].push(tank);
        }
        self.system_of[tank] = system;
    }

    /// A box hangs in a tank, or no longer.
    pub fn hang(&mut self, tank: Tank, host: Option<Tank>) {
        self.forget(tank);
        if let Some(old) = self.host_of[tank] {
            self.boxes_in[old].retain(|there| *there != tank);
        }
        if let Some(new) = host {
            self.forget(new);
            self.boxes_in[new].push(tank);
        }
        self.host_of[tank] = host;
    }

    /// A system shares another's water, or no longer.
    pub fn pipe(&mut self, system: System, other: Option<System>) {
        self.forget(self.sump(system));
        if let Some(old) = self.pipe_of[system] {
            self.pipes_to[old].retain(|there| *there != system);
        }
        if let Some(new) = other {
            self.forget(self.sump(new));
            self.pipes_to[new].push(system);
        }
        self.pipe_of[system] = other;
    }

    /// A stay begins.
    pub fn enter(&mut self, stock: Stock, place: Option<Tank>) {
        if let Some(tank) = place {
            let other = self.tanks(stock).next();
            match other {
                // In two places at once it joins their waters.
                Some(other) => {
                    self.forget(other);
                    self.forget(tank);
                }
                None => self.count(stock, tank, true),
            }
            self.stocks_in[tank].push(stock);
        }
        self.places_of[stock].push(place);
        self.doubled += usize::from(self.places_of[stock].len() == 2);
    }

    /// A stay ends.
    pub fn leave(&mut self, stock: Stock, place: Option<Tank>) {
        if !take(&mut self.places_of[stock], &place) {
            return;
        }
        self.doubled -= usize::from(self.places_of[stock].len() == 1);
        if let Some(tank) = place {
            take(&mut self.stocks_in[tank], &stock);
            if self.tanks(stock).next().is_some() {
                self.forget(tank);
            } else {
                self.count(stock, tank, false);
            }
        }
    }

    /// Marks a stock, or takes the mark off.
    pub fn mark(&mut self, stock: Stock, marked: bool) {
        if std::mem::replace(&mut self.marked[stock], marked) == marked {
            return;
        }
        let water = self.tanks(stock).next().and_then(|tank| self.water_of[tank]);
        if let Some(water) = water {
            let there = &mut self.found[water].marked;
            *there = if marked { *there + 1 } else { there.saturating_sub(1) };
        }
    }

    /// The tanks a stock is in.
    pub fn tanks(&self, stock: Stock) -> impl Iterator<Item = Tank> + '_ {
        self.places_of[stock].iter().filter_map(|place| *place)
    }

    /// The stocks in a tank, not those that share its water elsewhere.
    pub fn inside(&self, tank: Tank) -> &[Stock] {
        &self.stocks_in[tank]
    }

    /// Whether there are fish of a stock.
    pub fn is_anywhere(&self, stock: Stock) -> bool {
        !self.places_of[stock].is_empty()
    }

    /// The sump of a system.
    pub fn sump(&self, system: System) -> Tank {
        self.tanks + system
    }

    /// Whether a tank shares its water with no other.
    pub fn stands_alone(&self, tank: Tank) -> bool {
        self.system_of[tank].is_none() && self.host_of[tank].is_none() && self.boxes_in[tank].is_empty()
    }

    /// Whether a tank is on a system, or a box in such a tank, or one in such a box.
    pub fn belongs(&self, tank: Tank, system: System) -> bool {
        let mut at = Some(tank);
        // Boxes can't hang in each other, but records can say so.
        for _ in 0..self.system_of.len() {
            match at {
                Some(tank) if self.system_of[tank] == Some(system) => return true,
                Some(tank) => at = self.host_of[tank],
                None => return false,
            }
        }
        false
    }

    /// A new look at the waters: each is seen once in it.
    pub fn look(&mut self) {
        self.round += 1;
    }

    /// The water of a tank: all that is shared across systems, boxes, and a stock that may be in two places. None if
    /// it was seen already since the last [`Waters::look`].
    pub fn next(&mut self, tank: Tank) -> Option<Water> {
        let water = self.water(tank);
        let seen = std::mem::replace(&mut self.found[water].seen, self.round);
        (seen != self.round).then_some(water)
    }

    /// What is in a water.
    pub fn shared(&self, water: Water) -> &Shared {
        &self.found[water].shared
    }

    /// How many marked stocks are in a water.
    pub fn marked(&self, water: Water) -> usize {
        self.found[water].marked
    }

    /// Whether any stock is in two places at once.
    pub fn are_doubled(&self) -> bool {
        self.doubled > 0
    }

    /// What changed in a water since the last time somebody asked.
    pub fn news(&mut self, water: Water) -> News {
        std::mem::replace(&mut self.found[water].news, News::None)
    }

    /// All that shares water with a stock, itself among them; nothing if there are no fish of it.
    pub fn with(&mut self, stock: Stock) -> Shared {
        let Some(tank) = self.tanks(stock).next() else {
            let stocks = if self.is_anywhere(stock) { vec![stock] } else { Vec::new() };
            return Shared { stocks, tanks: Vec::new() };
        };
        self.of_tank(tank).clone()
    }

    /// All that shares a tank's water.
    pub fn of_tank(&mut self, tank: Tank) -> &Shared {
        let water = self.water(tank);
        self.shared(water)
    }

    /// A stock that is in no other tank comes into a tank's water, or goes.
    fn count(&mut self, stock: Stock, tank: Tank, comes: bool) {
        let Some(water) = self.water_of[tank] else { return };
        let marked = usize::from(self.marked[stock]);
        let found = &mut self.found[water];
        match (found.shared.stocks.binary_search(&stock), comes) {
            (Err(at), true) => {
                found.shared.stocks.insert(at, stock);
                found.marked += marked;
            }
            (Ok(at), false) => {
                found.shared.stocks.remove(at);
                found.marked -= marked;
            }
            _ => return,
        }
        match &mut found.news {
            News::New => {}
            News::None => found.news = News::Moved(vec![stock]),
            // what left and came again, as fish within a system do, is no news
            News::Moved(moved) if moved.as_slice() == [stock] => found.news = News::None,
            News::Moved(moved) => moved.push(stock),
        }
    }

    /// What hangs together with a tank may change: its water has to be found anew.
    fn forget(&mut self, tank: Tank) {
        let Some(water) = self.water_of[tank] else { return };
        for tank in std::mem::take(&mut self.found[water].shared).tanks {
            self.water_of[tank] = None;
        }
    }

    fn water(&mut self, tank: Tank) -> Water {
        if let Some(water) = self.water_of[tank] {
            return water;
        }
        let water = self.found.len();
        let mut shared = Shared::default();
        let mut next = vec![tank];
        while let Some(tank) = next.pop() {
            if self.water_of[tank] == Some(water) {
                continue;
            }
            self.water_of[tank] = Some(water);
            shared.tanks.push(tank);
            if let Some(system) = self.system_of[tank] {
                next.extend(&self.tanks_of[system]);
                if tank == self.sump(system) {
                    let others = self.pipe_of[system].iter().chain(&self.pipes_to[system]);
                    next.extend(others.map(|other| self.tanks + other));
                }
            }
            next.extend(self.host_of[tank].iter().chain(&self.boxes_in[tank]));
            for &stock in &self.stocks_in[tank] {
                shared.stocks.push(stock);
                if self.places_of[stock].len() > 1 {
                    next.extend(self.tanks(stock));
                }
            }
        }
        shared.tanks.sort_unstable();
        shared.stocks.sort_unstable();
        shared.stocks.dedup();
        let marked = shared.stocks.iter().filter(|stock| self.marked[**stock]).count();
        self.found.push(Found { shared, marked, seen: 0, news: News::New });
        water
    }
}

/// Takes one out; whether it was there.
fn take<T: PartialEq>(from: &mut Vec<T>, what: &T) -> bool {
    let at = from.iter().position(|there| there == what);
    if let Some(at) = at {
        from.swap_remove(at);
    }
    at.is_some()
}
