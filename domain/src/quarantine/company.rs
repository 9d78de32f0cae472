//! Who shared water with whom, when: only where somebody was held, since only then does anybody ask. It is fish that
//! share water, not records: what was split off, or joined others, is followed. Must not judge.

use std::collections::BTreeMap;

use crate::streams::At;

use super::moment::Stock;

/// The same stocks shared a water from then to then.
#[derive(Debug)]
struct Spell {
    from: At,
    until: Option<At>,
    stocks: Vec<Stock>,
}

/// All spells so far.
#[derive(Debug)]
pub(super) struct Company {
    spells: Vec<Spell>,
    of: Vec<Vec<usize>>,
    /// Whose fish became, or joined, a stock; and whom a stock gave fish to. Each with when, rising.
    origins: Vec<Vec<(Stock, At)>>,
    heirs: Vec<Vec<(Stock, At)>>,
}

impl Company {
    /// Of so many stocks.
    pub fn new(stocks: usize) -> Self {
        let none = || vec![Vec::new(); stocks];
        Self { spells: Vec::new(), of: vec![Vec::new(); stocks], origins: none(), heirs: none() }
    }

    /// From now on these share a water with one another and with nobody else.
    pub fn set(&mut self, stocks: &[Stock], at: At) {
        let Some(&first) = stocks.first() else { return };
        if let Some(&last) = self.of[first].last() {
            let last = &self.spells[last];
            if last.until.is_none() && last.stocks == stocks {
                return;
            }
        }
        stocks.iter().for_each(|stock| self.end(*stock, at));
        let spell = self.spells.len();
        self.spells.push(Spell { from: at, until: None, stocks: stocks.to_vec() });
        stocks.iter().for_each(|stock| self.of[*stock].push(spell));
    }

    /// A stock is with nobody any more: the others' spell ends too, and they have to be set anew.
    pub fn end(&mut self, stock: Stock, at: At) {
        if let Some(&last) = self.of[stock].last() {
            self.spells[last].until.get_or_insert(at);
        }
    }

    /// Fish of one stock became, or joined, another.
    pub fn hand(&mut self, from: Stock, to: Stock, at: At) {
        if from != to {
            self.origins[to].push((from, at));
            self.heirs[from].push((to, at));
        }
    }

    /// Everybody who shared water with a stock in the `seconds` before an instant or at it, itself among them: fish
    /// that were another stock's then, on either side, too.
    pub fn within(&self, stock: Stock, at: At, seconds: i64) -> Vec<Stock> {
        let begin = At::from_seconds(at.seconds() - seconds);
        // Since when each has fish that were with these.
        let mut since: BTreeMap<Stock, At> = BTreeMap::new();
        for (origin, limit) in self.before(stock, begin) {
            earlier(&mut since, origin, begin);
            for spell in self.of[origin].iter().rev().map(|spell| &self.spells[*spell]) {
                if spell.until.is_some_and(|until| until <= begin) && spell.from < begin {
                    break;
                }
                if limit.is_none_or(|limit| spell.from < limit) {
                    let from = spell.from.max(begin);
                    for &other in &spell.stocks {
                        earlier(&mut since, other, from);
                    }
                }
            }
        }
        let mut next: Vec<Stock> = since.keys().copied().collect();
        while let Some(giver) = next.pop() {
            let Some(&with) = since.get(&giver) else { continue };
            for &(heir, when) in self.heirs[giver].iter().rev().take_while(|(_, when)| *when > with) {
                // What it hands on at that same instant may be these fish.
                if earlier(&mut since, heir, At::from_seconds(when.seconds() - 1)) {
                    next.push(heir);
                }
            }
        }
        since.into_keys().collect()
    }

    /// Whose fish these were after an instant, each until when; themselves until now.
    fn before(&self, stock: Stock, begin: At) -> BTreeMap<Stock, Option<At>> {
        let mut all: BTreeMap<Stock, Option<At>> = BTreeMap::from([(stock, None)]);
        let mut next = vec![stock];
        while let Some(heir) = next.pop() {
            let limit = all.get(&heir).copied().flatten();
            for &(origin, when) in self.origins[heir].iter().rev().take_while(|(_, when)| *when > begin) {
                let when = limit.map_or(when, |limit| limit.min(when));
                let known = all.get(&origin).copied();
                if known.is_none_or(|known| known.is_some_and(|known| known < when)) {
                    all.insert(origin, Some(when));
                    next.push(origin);
                }
            }
        }
        all
    }
}

/// Notes an instant if it is the earliest; whether it is.
fn earlier(since: &mut BTreeMap<Stock, At>, stock: Stock, at: At) -> bool {
    let there = since.get(&stock).copied();
    let is = there.is_none_or(|there| at < there);
    if is {
        since.insert(stock, at);
    }
    is
}
