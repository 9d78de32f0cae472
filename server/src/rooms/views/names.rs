//! What stocks, tanks, waters and numbers are called on a page. Cuts no name; asks nothing of the database.

use tarn_domain::rooms::{Came, Millilitres, Node, Row, Sex, StockState};
use tarn_domain::state::RoomStates;
use tarn_domain::streams::{StockId, SystemId, TankId};

use super::Beside;
use crate::platform::words::{RunKind, Words};

/// Names of a room's things.
#[derive(Clone, Copy)]
pub struct Names<'a> {
    /// The room.
    pub states: &'a RoomStates<'a>,
    /// What areas above know.
    pub beside: Beside,
}

impl Names<'_> {
    /// A stock: species as kept, form, the keeper's own name or the brood's code.
    pub fn stock(&self, id: StockId) -> Words {
        match self.states.stocks.get(&id) {
            Some(stock) => self.of_stock(stock),
            None => Words::plain("a stock that is not here"),
        }
    }

    /// Stocks that were put together: "A × B".
    pub fn crossed(&self, stocks: impl IntoIterator<Item = StockId>) -> Words {
        let mut all = stocks.into_iter().map(|stock| self.stock(stock));
        let first = all.next().unwrap_or_default();
        all.fold(first, |words, stock| words.and(RunKind::Plain, " \u{d7} ").then(stock))
    }

    fn of_stock(&self, stock: &StockState) -> Words {
        let name = stock.name.as_deref().map(str::trim).filter(|name| !name.is_empty());
        let species = stock.species.as_deref().map(str::trim).filter(|name| !name.is_empty());
        let code = match &stock.came {
            Some(Came::Born { brood }) => self.states.broods.get(brood).and_then(|b| b.code.as_deref()),
            _ => None,
        };
        let mut words = match (species, name) {
            (Some(species), _) => Words::species(species),
            (None, Some(name)) if code != Some(name) => Words::plain(name),
            (None, Some(_)) => Words::plain("Young"),
            (None, None) => Words::plain("Fish without a name"),
        };
        if let Some(form) = stock.form.as_deref().filter(|form| !form.trim().is_empty()) {
            words = words.and(RunKind::Plain, format!(" \u{201c}{}\u{201d}", form.trim()));
        }
        match name {
            Some(name) if code == Some(name) => {
                words.and(RunKind::Plain, ", brood ").and(RunKind::Code, name)
            }
            Some(name) if species.is_some_and(|s| !s.eq_ignore_ascii_case(name)) => {
                words.and(RunKind::Plain, format!(", {name}"))
            }
            _ => words,
        }
    }

    /// What is written on a tank.
    pub fn tank(&self, id: TankId) -> String {
        let name = self.states.tanks.get(&id).and_then(|tank| tank.name.clone());
        name.filter(|name| !name.trim().is_empty()).unwrap_or_else(|| "a tank without a name".into())
    }

    /// A tank, or the bag.
    pub fn place(&self, place: Option<TankId>) -> String {
        place.map_or_else(|| "the bag".into(), |tank| self.tank(tank))
    }

    /// A water system.
    pub fn system(&self, id: SystemId) -> String {
        let name = self.states.systems.get(&id).and_then(|system| system.name.clone());
        name.filter(|name| !name.trim().is_empty()).unwrap_or_else(|| "a water without a name".into())
    }

    /// A brood or founders.
    pub fn node(&self, node: Node) -> Words {
        (self.beside.node)(self.states, node)
    }
}

/// How many of one sex, and whether that is a guess.
pub type Part = (Sex, i64, bool);

/// "2 m 3 f, about 10 unsexed, 26 eggs"; "none".
pub fn in_numbers(parts: impl IntoIterator<Item = Part>) -> String {
    let mut sums = [(0_i64, false); 5];
    for (sex, n, about) in parts {
        let sum = &mut sums[sex as usize];
        *sum = (sum.0 + n, sum.1 || about);
    }
    let one = |sex: Sex, word: &str| {
        let (n, about) = sums[sex as usize];
        let about = if about { "about\u{a0}" } else { "" };
        (n > 0).then(|| format!("{about}{n}{word}"))
    };
    let sexed: Vec<String> =
        [one(Sex::Male, "\u{a0}m"), one(Sex::Female, "\u{a0}f")].into_iter().flatten().collect();
    let mut all = Vec::new();
    if !sexed.is_empty() {
        all.push(sexed.join(" "));
    }
    all.extend(one(Sex::Unsexed, "\u{a0}unsexed"));
    let eggs = if sums[Sex::Eggs as usize].0 == 1 { "\u{a0}egg" } else { "\u{a0}eggs" };
    all.extend(one(Sex::Eggs, eggs));
    all.extend(one(Sex::Any, " of whichever sex"));
    let owed = sums[Sex::Any as usize].0;
    match (all.is_empty(), owed < 0) {
        (true, _) => "none".into(),
        (false, true) => format!("{}, less {} of whichever sex", all.join(", "), -owed),
        (false, false) => all.join(", "),
    }
}

/// The numbers of an op's rows.
pub fn rows_in_numbers(rows: &[Row]) -> String {
    in_numbers(rows.iter().map(|row| (row.sex, row.n.get(), row.about)))
}

/// How many a stock has.
pub fn how_many(stock: &StockState) -> String {
    if stock.total() == 0 {
        return "none".into();
    }
    let parts = stock.numbers.rows().map(|(key, n)| (key.1, n, stock.about.contains(&key)));
    in_numbers(settled(parts.collect()))
}

/// Numbers that were added up over several stocks.
pub fn parts_in_words(parts: &[Part]) -> String {
    in_numbers(settled(parts.to_vec()))
}

/// How many of one lineage a stock has.
pub fn how_many_of(stock: &StockState, node: Node) -> String {
    let of = stock.numbers.rows().filter(|((of, _), n)| *of == node && *n > 0);
    in_numbers(of.map(|(key, n)| (key.1, n, stock.about.contains(&key))))
}

/// Where only one sex is there, those gone "of whichever sex" are of that one.
fn settled(mut parts: Vec<Part>) -> Vec<Part> {
    let there: Vec<Sex> = parts.iter().filter(|(_, n, _)| *n > 0).map(|(sex, ..)| *sex).collect();
    let only = there.first().copied().filter(|first| there.iter().all(|sex| sex == first));
    if let Some(only) = only {
        for part in parts.iter_mut().filter(|(sex, n, _)| *sex == Sex::Any && *n < 0) {
            part.0 = only;
        }
    }
    parts
}

/// "54 l", "0.75 l".
pub fn litres(volume: Millilitres) -> String {
    format!("{}\u{a0}l", thousandths(i64::from(volume.0)))
}

/// 24600 is "24.6".
pub fn thousandths(milli: i64) -> String {
    let sign = if milli < 0 { "−" } else { "" };
    let size = milli.unsigned_abs();
    let part = format!("{:03}", size % 1000);
    let part = part.trim_end_matches('0');
    let dot = if part.is_empty() { "" } else { "." };
    format!("{sign}{}{dot}{part}", size / 1000)
}

/// Sorts A2 before A10: digits are compared as the numbers they are.
pub fn natural(name: &str) -> Vec<(u64, String)> {
    let mut parts = Vec::new();
    let mut rest = name;
    while !rest.is_empty() {
        let words = rest.find(|c: char| c.is_ascii_digit()).unwrap_or(rest.len());
        let (word, tail) = rest.split_at(words);
        let digits = tail.find(|c: char| !c.is_ascii_digit()).unwrap_or(tail.len());
        let (number, tail) = tail.split_at(digits);
        parts.push((0, word.to_lowercase()));
        if !number.is_empty() {
            parts.push((number.parse().unwrap_or(u64::MAX), String::new()));
        }
        rest = tail;
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_keepers_say_them() {
        let say = |parts: &[Part]| in_numbers(parts.iter().copied()).replace('\u{a0}', " ");
        assert_eq!(say(&[(Sex::Male, 2, false), (Sex::Female, 3, false)]), "2 m 3 f");
        assert_eq!(say(&[(Sex::Unsexed, 40, true), (Sex::Eggs, 1, false)]), "about 40 unsexed, 1 egg");
        assert_eq!(say(&[(Sex::Male, 2, false), (Sex::Any, -1, false)]), "2 m, less 1 of whichever sex");
        assert_eq!(say(&settled(vec![(Sex::Unsexed, 6, false), (Sex::Any, -2, false)])), "4 unsexed");
        assert_eq!(say(&[]), "none");
    }

    #[test]
    fn tanks_stand_in_the_order_of_their_numbers() {
        let mut tanks = ["A10", "b1", "A2", "A", "A2 left"];
        tanks.sort_by_key(|name| natural(name));
        assert_eq!(tanks, ["A", "A2", "A2 left", "A10", "b1"]);
        assert_eq!(
            (thousandths(24_600), thousandths(-500), thousandths(7_000)),
            ("24.6".into(), "−0.5".into(), "7".into())
        );
    }
}
