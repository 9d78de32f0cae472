//! Who shared water with whom, when; a bag is a water of its own. Fish that become or join another stock take along
//! whom they were with. Must not judge.

use crate::streams::At;

use super::moment::Stock;

/// The same stocks shared a water from then to then.
#[derive(Debug)]
struct Spell {
    from: At,
    until: Option<At>,
    stocks: Vec<Stock>,
}

impl Spell {
    /// Whether any of it lies after an instant, or begins at it.
    fn counts(&self, begin: i64) -> bool {
        self.until.is_none_or(|until| until.seconds() > begin || self.from.seconds() >= begin)
    }
}

/// All spells so far.
#[derive(Debug)]
pub(super) struct Company {
    spells: Vec<Spell>,
    /// The spells of each stock, in order of their end.
    of: Vec<Vec<usize>>,
    /// The longest time back that anybody asks for, in seconds.
    longest: i64,
}

impl Company {
    /// Of so many stocks; nobody asks for what is further back than so many seconds.
    pub fn new(stocks: usize, longest: i64) -> Self {
        Self { spells: Vec::new(), of: vec![Vec::new(); stocks], longest }
    }

    /// From now on these share a water with one another and with nobody else.
    pub fn set(&mut self, stocks: &[Stock], at: At) {
        let Some(&first) = stocks.first() else { return };
        if let Some(&last) = self.of[first].last()
            && self.spells[last].until.is_none()
            && self.spells[last].stocks == stocks
        {
            return;
        }
        stocks.iter().for_each(|stock| self.end(*stock, at));
        let spell = self.spells.len();
        self.spells.push(Spell { from: at, until: None, stocks: stocks.to_vec() });
        stocks.iter().for_each(|stock| self.of[*stock].push(spell));
    }

    /// These are still together at this instant, though some of them no longer after it.
    pub fn last_at(&mut self, stocks: &[Stock], at: At) {
        let last = stocks.first().and_then(|first| self.of[*first].last());
        if last.is_some_and(|last| self.spells[*last].from < at) {
            stocks.iter().for_each(|stock| self.end(*stock, at));
            self.set(stocks, at);
        }
    }

    /// A stock is with nobody any more: the others' spell ends too, and they have to be set anew.
    pub fn end(&mut self, stock: Stock, at: At) {
        if let Some(&last) = self.of[stock].last() {
            self.spells[last].until.get_or_insert(at);
        }
    }

    /// Fish of one stock become, or join, another: they were with whom they were with. Several of one instant have no
    /// order among themselves. The spells of those that they leave end, and have to be set anew.
    pub fn hand_on(&mut self, pairs: &[(Stock, Stock)], at: At) {
        pairs.iter().for_each(|(from, _)| self.end(*from, at));
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

    fn inherit(&mut self, from: Stock, into: Stock, at: At) -> bool {
        let begin = at.seconds() - self.longest;
        let lately = |spell: &&usize| self.spells[**spell].counts(begin);
        let mut new: Vec<usize> = self.of[from].iter().rev().take_while(lately).copied().collect();
        new.retain(|spell| !self.spells[*spell].stocks.contains(&into));
        for spell in &new {
            self.spells[*spell].stocks.push(into);
        }
        self.of[into].extend(&new);
        let spells = &self.spells;
        self.of[into].sort_by_key(|spell| (spells[*spell].until.is_none(), spells[*spell].until, *spell));
        !new.is_empty()
    }

    /// Everybody who shared water with a stock in the `seconds` before an instant or at it, itself among them.
    pub fn within(&self, stock: Stock, at: At, seconds: i64) -> Vec<Stock> {
        let begin = at.seconds() - seconds;
        let mut all = vec![stock];
        for &spell in self.of[stock].iter().rev() {
            let spell = &self.spells[spell];
            if !spell.counts(begin) {
                break;
            }
            all.extend(&spell.stocks);
        }
        all.sort_unstable();
        all.dedup();
        all
    }
}
