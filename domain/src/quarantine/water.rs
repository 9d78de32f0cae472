//! Who shares water with whom while the records are read in order of time. Must not know what a quarantine is.

use super::moment::{Stock, System, Tank};

/// Where everything is at one moment. A stock is in more than one place only while a doubtful stay lasts; a stock in
/// the bag is a water of its own.
#[derive(Debug)]
pub(super) struct Waters {
    system_of: Vec<Option<System>>,
    tanks_of: Vec<Vec<Tank>>,
    /// The stocks of each tank, each as often as it has a stay there.
    stocks_in: Vec<Vec<Stock>>,
    /// Where each stock is, as often.
    places_of: Vec<Vec<Option<Tank>>>,
    /// In which round a tank and a stock were last seen.
    seen_tank: Vec<u32>,
    seen_stock: Vec<u32>,
    round: u32,
}

impl Waters {
    /// So many of each, nothing anywhere.
    pub fn new(stocks: usize, (tanks, systems): (usize, usize)) -> Self {
        Self {
            system_of: vec![None; tanks],
            tanks_of: vec![Vec::new(); systems],
            stocks_in: vec![Vec::new(); tanks],
            places_of: vec![Vec::new(); stocks],
            seen_tank: vec![0; tanks],
            seen_stock: vec![0; stocks],
            round: 0,
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

    /// Whether there are fish of a stock.
    pub fn is_anywhere(&self, stock: Stock) -> bool {
        !self.places_of[stock].is_empty()
    }

    /// A new look at who shares water: every tank is seen once in it.
    pub fn look(&mut self) {
        self.round += 1;
    }

    /// All stocks that share a tank's water, in order: across a system, and across a stock that may be in two places.
    /// None if this water was seen already since the last [`Waters::look`].
    pub fn sharing(&mut self, tank: Tank) -> Option<Vec<Stock>> {
        if self.seen_tank[tank] == self.round {
            return None;
        }
        let mut stocks = Vec::new();
        let mut next = vec![tank];
        while let Some(tank) = next.pop() {
            if self.seen_tank[tank] == self.round {
                continue;
            }
            self.seen_tank[tank] = self.round;
            if let Some(system) = self.system_of[tank] {
                next.extend(self.tanks_of[system].iter().filter(|t| self.seen_tank[**t] != self.round));
            }
            for &stock in &self.stocks_in[tank] {
                if self.seen_stock[stock] != self.round {
                    self.seen_stock[stock] = self.round;
                    stocks.push(stock);
                    next.extend(self.places_of[stock].iter().filter_map(|place| *place));
                }
            }
        }
        stocks.sort_unstable();
        Some(stocks)
    }

    /// All stocks that share water with this one, itself among them, in order; none if there are no fish of it.
    pub fn with(&mut self, stock: Stock) -> Vec<Stock> {
        self.look();
        let Some(tank) = self.tanks(stock).next() else {
            return if self.is_anywhere(stock) { vec![stock] } else { Vec::new() };
        };
        self.sharing(tank).unwrap_or_default()
    }
}

fn take<T: PartialEq>(from: &mut Vec<T>, what: &T) {
    if let Some(at) = from.iter().position(|there| there == what) {
        from.swap_remove(at);
    }
}
