//! How everything stands in a room after an instant, as far as its records are read; and such standings kept, so that
//! the next reading goes on from the last that still holds. Must not read records.

use std::collections::BTreeSet;

use super::company::Company;
use super::losses::Loss;
use super::member::Member;
use super::moment::{Numbered, Stock};
use super::residue::Residues;
use super::view::RoomView;
use super::water::Waters;
use crate::rooms::{Came, StockState};
use crate::streams::{At, Days, OpId};

/// How everything stands; stocks, tanks and sumps by number.
#[derive(Debug, Clone)]
pub(super) struct Standing {
    pub waters: Waters,
    pub residues: Residues,
    /// What each stock was split off.
    pub wholes: Vec<Option<Stock>>,
    /// What was split off each stock.
    pub parts: Vec<Vec<Stock>>,
    pub company: Company,
    /// Fish from outside that never were in water here: bags not opened, and parts of them.
    pub sealed: Vec<bool>,
    /// Bags that may have been opened.
    pub doubted: Vec<bool>,
    pub members: Vec<Option<Box<Member>>>,
    /// Who is a member.
    pub held: BTreeSet<Stock>,
    /// How many treatments run in each tank or sump.
    pub anchors: Vec<u32>,
    /// How many turns of each stock were reckoned up, and how many fish that makes.
    pub reckoned: Vec<(usize, i64)>,
    pub losses: Vec<Vec<Loss>>,
    /// When stocks were born here.
    pub born: Vec<Option<At>>,
    pub waits: Vec<Option<At>>,
    /// The sign-off that was recalled of a stock.
    pub recalled: Vec<Option<OpId>>,
    /// Sign-offs that count so far, by their place in the room's facts, with their stocks.
    pub signatures: Vec<(usize, Vec<Stock>)>,
    pub unemptied: Vec<OpId>,
}

impl Standing {
    /// Before anything happened. Nobody asks for company further back than so many days.
    pub fn new(numbered: &Numbered, company: Days) -> Self {
        let (tanks, systems) = numbered.waters();
        Self {
            waters: Waters::new(tanks, systems),
            residues: Residues::new(tanks + systems),
            wholes: Vec::new(),
            parts: Vec::new(),
            company: Company::new(company),
            sealed: Vec::new(),
            doubted: Vec::new(),
            members: Vec::new(),
            held: BTreeSet::new(),
            anchors: vec![0; tanks + systems],
            reckoned: Vec::new(),
            losses: Vec::new(),
            born: Vec::new(),
            waits: Vec::new(),
            recalled: Vec::new(),
            signatures: Vec::new(),
            unemptied: Vec::new(),
        }
    }

    /// Makes room for the stocks that are new.
    pub fn grow(&mut self, room: &RoomView<'_>, numbered: &Numbered) {
        let (old, n) = (self.wholes.len(), numbered.stocks.len());
        let whole = |stock: &&StockState| match &stock.came {
            Some(Came::Split { of }) => numbered.stock(*of),
            _ => None,
        };
        self.parts.resize(n, Vec::new());
        for (part, stock) in room.stocks.values().enumerate().skip(old) {
            let whole = whole(stock);
            self.wholes.push(whole);
            whole.into_iter().for_each(|whole| self.parts[whole].push(part));
        }
        self.waters.grow(n);
        self.company.grow(n);
        self.sealed.resize(n, false);
        self.doubted.resize(n, false);
        self.members.resize(n, None);
        self.reckoned.resize(n, (0, 0));
        self.losses.resize(n, Vec::new());
        self.born.resize(n, None);
        self.waits.resize(n, None);
        self.recalled.resize(n, None);
    }
}

/// How long before now standings are kept. What a push brings is mostly of the last days.
const AGES: [Days; 2] = [Days(40), Days(3)];

/// Standings of a room after some instants, the earliest first, and what they were read under.
#[derive(Debug, Default)]
pub struct Kept {
    all: Vec<(At, Standing)>,
    /// What had which number then.
    numbered: Option<Numbered>,
    /// The time of the reading.
    now: Option<At>,
    /// The sign-offs that did not count.
    recalled: BTreeSet<OpId>,
}

impl Kept {
    /// From this instant on something is otherwise than it was read.
    pub fn forget_from(&mut self, at: At) {
        self.all.retain(|(after, _)| *after < at);
    }

    /// Whether nothing is kept.
    pub fn is_empty(&self) -> bool {
        self.all.is_empty()
    }

    /// About how many bytes it takes.
    pub fn weight(&self) -> usize {
        self.all.iter().map(|(_, standing)| standing.wholes.len() * 400).sum()
    }

    /// The last standing that holds for this reading, and after which instant.
    pub(super) fn last(
        &mut self,
        room: &RoomView<'_>,
        numbered: &Numbered,
        recalled: &BTreeSet<OpId>,
        now: At,
    ) -> Option<(At, Standing)> {
        // A stock that has to wait does so under the clubs that the room has up to now.
        let came = |from: At, now: At| room.facts.home.iter().any(|(at, _)| from < *at && *at <= now);
        let same = self.now.is_some_and(|then| then <= now && !came(then, now))
            && self.recalled == *recalled
            && self.numbered.as_ref().is_some_and(|old| numbered.goes_on(old));
        if !same {
            self.all.clear();
        }
        self.all.retain(|(after, _)| *after <= now);
        self.all.last().cloned()
    }

    /// After a reading: with what the next goes on.
    pub(super) fn done(&mut self, numbered: Numbered, recalled: &BTreeSet<OpId>, now: At) {
        (self.numbered, self.now) = (Some(numbered), Some(now));
        self.recalled.clone_from(recalled);
        // Of each age the youngest that is old enough.
        let of_age = |age: Days| self.all.iter().rposition(|(after, _)| after.plus(age) <= now);
        let wanted: BTreeSet<usize> = AGES.into_iter().filter_map(of_age).collect();
        let mut no = 0..;
        self.all.retain(|_| no.next().is_some_and(|no| wanted.contains(&no)));
    }

    /// Whether the standing after one instant should be kept, where the next at which anything happens is another.
    pub(super) fn wants(&self, last: At, next: At, now: At) -> bool {
        AGES.iter().any(|age| {
            let is_of_age = |at: At| at.plus(*age) <= now;
            // Taking one is work; one that is twice as old as need be will do.
            let will_do =
                |after: At| after == last || (is_of_age(after) && after.plus(Days(age.0 * 2)) >= now);
            is_of_age(last) && !is_of_age(next) && !self.all.iter().any(|(after, _)| will_do(*after))
        })
    }

    /// Keeps a standing.
    pub(super) fn keep(&mut self, after: At, standing: Standing) {
        self.all.push((after, standing));
    }
}
