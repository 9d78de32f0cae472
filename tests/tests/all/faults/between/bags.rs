//! Bags between the rooms, as whoever makes up a schedule remembers them.

use super::super::edit::Edit;
use rand::Rng;
use rand::rngs::StdRng;
use rand::seq::{IndexedRandom, IteratorRandom};

/// A bag.
#[derive(Clone, Debug)]
pub struct Bag {
    pub parcel: String,
    /// From which room, and for which.
    pub from: usize,
    pub to: usize,
    /// How many it holds, of which sex.
    pub n: u32,
    pub sex: &'static str,
    /// Who claimed it, and under which name if it was not opened there.
    pub came: Vec<(usize, Option<String>)>,
}

/// So many of a sex, as typed.
pub fn typed(n: u32, sex: &str) -> String {
    format!("{n} {sex}").trim_end().to_owned()
}

impl Bag {
    /// Somewhere it arrives, mostly where it was sent.
    pub fn goes_to(&self, rooms: usize, rng: &mut StdRng) -> usize {
        match rng.random_range(0..100) {
            0..12 => self.from,
            12..24 => {
                // somebody who has nothing to do with it
                let others = (0..rooms).filter(|room| *room != self.from && *room != self.to);
                others.choose(rng).unwrap_or(self.to)
            }
            _ => self.to,
        }
    }

    /// The entry that it arrived, as one keeper or another would type it.
    pub fn arrives(&self, name: &str, tank: Option<&String>, rng: &mut StdRng) -> Edit {
        let mut words: Vec<String> =
            ["parcel", "arrive", &self.parcel, "--name", name].map(Into::into).into();
        // a slip is there only once it was sent, and only for whom it is for
        let with_slip = rng.random_bool(0.4);
        if !with_slip {
            words.push("--offline".into());
        }
        let dead = if rng.random_bool(0.3) { rng.random_range(1..=self.n) } else { 0 };
        let wrong = if rng.random_bool(0.25) { *[-1, 1, 2].choose(rng).unwrap_or(&1) } else { 0 };
        if !with_slip || dead > 0 || wrong != 0 {
            let alive = (self.n - dead).saturating_add_signed(wrong);
            words.extend(["--alive".into(), typed(alive, self.sex)]);
        }
        if dead > 0 {
            words.extend(["--dead".into(), typed(dead, self.sex)]);
        }
        if let Some(tank) = tank {
            words.extend(["--tank".into(), tank.clone(), "--anyway".into()]);
        }
        Edit { arguments: words, tank: None, stock: Some(name.to_owned()) }
    }
}
