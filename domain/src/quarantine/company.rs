//! Who shared water with whom, when: only where somebody was held, since only then does anybody ask. Must not judge.

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
}

impl Company {
    /// Of so many stocks.
    pub fn new(stocks: usize) -> Self {
        Self { spells: Vec::new(), of: vec![Vec::new(); stocks] }
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

    /// A stock is with nobody any more: the others' spell ends too, and they have to be set anew.
    pub fn end(&mut self, stock: Stock, at: At) {
        if let Some(&last) = self.of[stock].last() {
            self.spells[last].until.get_or_insert(at);
        }
    }

    /// Everybody who shared water with a stock in the `seconds` before an instant or at it, itself among them.
    pub fn within(&self, stock: Stock, at: At, seconds: i64) -> Vec<Stock> {
        let begin = at.seconds() - seconds;
        let mut all = vec![stock];
        for &spell in self.of[stock].iter().rev() {
            let Spell { from, until, stocks } = &self.spells[spell];
            let counts = until.is_none_or(|until| until.seconds() > begin || from.seconds() >= begin);
            if !counts {
                break;
            }
            all.extend(stocks);
        }
        all.sort_unstable();
        all.dedup();
        all
    }
}
