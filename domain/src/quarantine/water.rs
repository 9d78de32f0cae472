//! Who shares water with whom while the records are read in order of time. Must not know what a quarantine is.

use super::moment::{Stock, System, Tank};

/// Everything that shares a water at one moment.
#[derive(Debug, Default)]
pub(super) struct Shared {
    /// The stocks, in order.
    pub stocks: Vec<Stock>,
    /// The tanks and sumps.
    pub tanks: Vec<Tank>,
}

/// Where everything is at one moment. A stock is in more than one place only while a doubtful stay lasts; a stock in
/// the bag is a water of its own.
#[derive(Debug)]
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
    /// In which round a tank and a stock were last seen.
    seen_tank: Vec<u32>,
    seen_stock: Vec<u32>,
    round: u32,
    tanks: usize,
}

impl Waters {
    /// So many of each, nothing anywhere. After the tanks come the sumps of the systems.
    pub fn new(stocks: usize, (tanks, systems): (usize, usize)) -> Self {
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
            places_of: vec![Vec::new(); stocks],
            seen_tank: vec![0; all],
            seen_stock: vec![0; stocks],
            round: 0,
            tanks,
        }
    }

    /// A tank joins a system's water, or stands alone.
    pub fn plumb(&mut self, tank: Tank, system: Option<System>) {
        if let Some(old) = self.system_of[tank] {
            self.tanks_of[old].retain(|there| *there != tank);
        }
        if let Some(new) = system {
            self.tanks_of[new].push(tank);
        }
        self.system_of[tank] = system;
    }

    /// A box hangs in a tank, or no longer.
    pub fn hang(&mut self, tank: Tank, host: Option<Tank>) {
        if let Some(old) = self.host_of[tank] {
            self.boxes_in[old].retain(|there| *there != tank);
        }
        if let Some(new) = host {
            self.boxes_in[new].push(tank);
        }
        self.host_of[tank] = host;
    }

    /// A system shares another's water, or no longer.
    pub fn pipe(&mut self, system: System, other: Option<System>) {
        if let Some(old) = self.pipe_of[system] {
            self.pipes_to[old].retain(|there| *there != system);
        }
        if let Some(new) = other {
            self.pipes_to[new].push(system);
        }
        self.pipe_of[system] = other;
    }

    /// A stay begins.
    pub fn enter(&mut self, stock: Stock, place: Option<Tank>) {
        self.places_of[stock].push(place);
        if let Some(tank) = place {
            self.stocks_in[tank].push(stock);
        }
    }

    /// A stay ends.
    pub fn leave(&mut self, stock: Stock, place: Option<Tank>) {
        take(&mut self.places_of[stock], &place);
        if let Some(tank) = place {
            take(&mut self.stocks_in[tank], &stock);
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

    /// A new look at who shares water: every tank is seen once in it.
    pub fn look(&mut self) {
        self.round += 1;
    }

    /// All that shares a tank's water: across systems, boxes, and a stock that may be in two places. None if this
    /// water was seen already since the last [`Waters::look`].
    pub fn sharing(&mut self, tank: Tank) -> Option<Shared> {
        if self.seen_tank[tank] == self.round {
            return None;
        }
        let mut shared = Shared::default();
        let mut next = vec![tank];
        while let Some(tank) = next.pop() {
            if self.seen_tank[tank] == self.round {
                continue;
            }
            self.seen_tank[tank] = self.round;
            shared.tanks.push(tank);
            let seen = &self.seen_tank;
            let round = self.round;
            if let Some(system) = self.system_of[tank] {
                next.extend(self.tanks_of[system].iter().filter(|t| seen[**t] != round));
                if tank == self.tanks + system {
                    let others = self.pipe_of[system].iter().chain(&self.pipes_to[system]);
                    next.extend(others.map(|other| self.tanks + other));
                }
            }
            next.extend(self.host_of[tank].iter().chain(&self.boxes_in[tank]).filter(|t| seen[**t] != round));
            for &stock in &self.stocks_in[tank] {
                if self.seen_stock[stock] != self.round {
                    self.seen_stock[stock] = self.round;
                    shared.stocks.push(stock);
                    next.extend(self.places_of[stock].iter().filter_map(|place| *place));
                }
            }
        }
        shared.stocks.sort_unstable();
        Some(shared)
    }

    /// All that shares water with a stock, itself among them; nothing if there are no fish of it.
    pub fn with(&mut self, stock: Stock) -> Shared {
        self.look();
        let Some(tank) = self.tanks(stock).next() else {
            let stocks = if self.is_anywhere(stock) { vec![stock] } else { Vec::new() };
            return Shared { stocks, tanks: Vec::new() };
        };
        self.sharing(tank).unwrap_or_default()
    }

    /// All that shares a tank's water.
    pub fn of_tank(&mut self, tank: Tank) -> Shared {
        self.look();
        self.sharing(tank).unwrap_or_default()
    }
}

fn take<T: PartialEq>(from: &mut Vec<T>, what: &T) {
    if let Some(at) = from.iter().position(|there| there == what) {
        from.swap_remove(at);
    }
}
