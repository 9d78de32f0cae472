//! Who shares water with whom while the records are read in order of time. Must not know what a quarantine is.

use std::collections::{BTreeMap, BTreeSet};

use crate::rooms::Place;
use crate::streams::{StockId, SystemId, TankId};

/// Where everything is at one moment. A stock is in more than one place only while a doubtful stay lasts.
#[derive(Debug, Default)]
pub(super) struct Waters {
    system_of: BTreeMap<TankId, SystemId>,
    tanks_of: BTreeMap<SystemId, BTreeSet<TankId>>,
    /// How many stays of each stock are in a tank.
    stocks_in: BTreeMap<TankId, BTreeMap<StockId, usize>>,
    /// And where each stock is; none: in the bag, a water of its own.
    places_of: BTreeMap<StockId, BTreeMap<Place, usize>>,
}

impl Waters {
    /// A tank joins a system's water, or stands alone.
    pub fn plumb(&mut self, tank: TankId, system: Option<SystemId>) {
        if let Some(old) = self.system_of.remove(&tank)
            && let Some(tanks) = self.tanks_of.get_mut(&old)
        {
            tanks.remove(&tank);
        }
        if let Some(system) = system {
            self.system_of.insert(tank, system);
            self.tanks_of.entry(system).or_default().insert(tank);
        }
    }

    /// A stay begins.
    pub fn enter(&mut self, stock: StockId, place: Place) {
        *self.places_of.entry(stock).or_default().entry(place).or_default() += 1;
        if let Some(tank) = place {
            *self.stocks_in.entry(tank).or_default().entry(stock).or_default() += 1;
        }
    }

    /// A stay ends.
    pub fn leave(&mut self, stock: StockId, place: Place) {
        take(&mut self.places_of, stock, place);
        if let Some(tank) = place {
            take(&mut self.stocks_in, tank, stock);
        }
    }

    /// The tanks a stock is in.
    pub fn tanks(&self, stock: StockId) -> impl Iterator<Item = TankId> + '_ {
        self.places_of.get(&stock).into_iter().flat_map(BTreeMap::keys).filter_map(|place| *place)
    }

    /// All tanks that share a tank's water, and all stocks in them: across a system, and across a stock that may be
    /// in two places.
    pub fn sharing(&self, tank: TankId) -> (BTreeSet<TankId>, BTreeSet<StockId>) {
        let (mut tanks, mut stocks) = (BTreeSet::new(), BTreeSet::new());
        let mut next = vec![tank];
        while let Some(tank) = next.pop() {
            if !tanks.insert(tank) {
                continue;
            }
            let system = self.system_of.get(&tank).and_then(|system| self.tanks_of.get(system));
            next.extend(system.into_iter().flatten());
            for &stock in self.stocks_in.get(&tank).into_iter().flat_map(BTreeMap::keys) {
                if stocks.insert(stock) {
                    next.extend(self.tanks(stock));
                }
            }
        }
        (tanks, stocks)
    }

    /// All stocks that share water with this one, itself among them; none if there are no fish of it.
    pub fn with(&self, stock: StockId) -> BTreeSet<StockId> {
        match self.tanks(stock).next() {
            Some(tank) => self.sharing(tank).1,
            None => self.places_of.get_key_value(&stock).map(|(stock, _)| *stock).into_iter().collect(),
        }
    }

    /// All stocks that have fish.
    pub fn stocks(&self) -> impl Iterator<Item = StockId> + '_ {
        self.places_of.keys().copied()
    }
}

fn take<A: Ord, B: Ord>(map: &mut BTreeMap<A, BTreeMap<B, usize>>, outer: A, inner: B) {
    let Some(counts) = map.get_mut(&outer) else { return };
    if let Some(n) = counts.get_mut(&inner) {
        *n -= 1;
        if *n == 0 {
            counts.remove(&inner);
        }
    }
    if counts.is_empty() {
        map.remove(&outer);
    }
}
