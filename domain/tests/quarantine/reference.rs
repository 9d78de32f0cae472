//! The quarantine clock read slowly: at every instant everybody's place is looked up anew, waters are put together
//! pair by pair, and the rules are applied to them. Neither places nor waters are kept from one instant to the next.
//! Written from what the clock has to do, not from how it does it.

use std::collections::{BTreeMap, BTreeSet};

use tarn_domain::quarantine::{Evidence, Opening, RoomView};
use tarn_domain::rooms::{Came, StockState};
use tarn_domain::streams::{At, ClubId, OpId, StockId};

#[path = "events.rs"]
mod events;
#[path = "handing.rs"]
mod handing;
#[path = "held.rs"]
mod held;
#[path = "lasting.rs"]
mod lasting;
#[path = "losses.rs"]
mod losses;
#[path = "opening.rs"]
mod opening;
#[path = "signing.rs"]
mod signing;
#[path = "told.rs"]
mod told;
#[path = "waters.rs"]
mod waters;

use events::Runs;
use held::{Held, Terms, plus};
use waters::{Node, Side, Water, waters};

pub use told::{Told, told, told_of};

/// How a stock stands.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
enum Standing {
    #[default]
    Home,
    /// Never in water here; perhaps with fish among them that were held.
    Sealed(Option<Held>),
    Held(Held),
}

/// What stays of a unit in a water.
#[derive(Debug, Clone)]
struct Residue {
    terms: Terms,
    /// When a member was last there.
    last: At,
}

/// What came up in a reading.
#[derive(Debug, Clone, Copy, Default)]
pub struct Seen {
    /// Home fish that were breached by water alone.
    pub breached: usize,
    /// What was emptied while it was still a unit's.
    pub emptied: usize,
}

/// A signature that was good when it was given.
struct Signature {
    club: ClubId,
    members: BTreeSet<StockId>,
    at: At,
}

/// The reading at an instant.
pub struct Slow<'a> {
    room: &'a RoomView<'a>,
    standing: BTreeMap<StockId, Standing>,
    residues: BTreeMap<Node, Residue>,
    births: BTreeMap<StockId, At>,
    waits: BTreeMap<StockId, At>,
    unemptied: BTreeSet<OpId>,
    /// Stocks named in a sign-off that did not hold.
    recalled: BTreeSet<StockId>,
    now: At,
    signatures: Vec<Signature>,
    pub seen: Seen,
    /// All instants up to this one.
    walked: Vec<At>,
}

impl<'a> Slow<'a> {
    /// Reads a room up to an instant.
    pub fn read(room: &'a RoomView<'a>, now: At) -> Self {
        let mut slow = Slow {
            room,
            standing: BTreeMap::new(),
            residues: BTreeMap::new(),
            births: BTreeMap::new(),
            waits: BTreeMap::new(),
            unemptied: BTreeSet::new(),
            recalled: BTreeSet::new(),
            now,
            signatures: Vec::new(),
            seen: Seen::default(),
            walked: Vec::new(),
        };
        for at in instants(room).into_iter().filter(|at| *at <= now) {
            slow.walked.push(at);
            slow.step(at);
        }
        slow
    }

    fn step(&mut self, at: At) {
        let [before, within, after] =
            [Side::Before, Side::Within, Side::After].map(|side| waters(self.room, at, side));
        self.change_clubs(at);
        self.empty(at, &before);
        self.were_there(at, &before);
        self.spread(at, &before);
        for (id, stock) in &self.room.stocks {
            if stock.since == Some(at) && matches!(stock.came, Some(Came::In { .. } | Came::Parcel { .. })) {
                self.standing.insert(*id, Standing::Sealed(None));
            }
        }
        self.hand_on(at);
        self.open(at);
        self.untreat(at, &within, Runs::Before);
        within.iter().for_each(|water| self.mix(at, water));
        self.untreat(at, &within, Runs::Before);
        self.spread(at, &within);
        self.begin_again(at, &within);
        within.iter().for_each(|water| self.mix(at, water));
        self.spread(at, &within);
        self.mark(at);
        self.look(at);
        self.spread(at, &within);
        self.untreat(at, &after, Runs::After);
        after.iter().for_each(|water| self.mix(at, water));
        self.sign(at, &after);
    }

    fn state(&self, stock: StockId) -> &'a StockState {
        self.room.stocks[&stock]
    }

    fn held(&self, stock: StockId) -> Option<&Held> {
        match self.standing.get(&stock) {
            Some(Standing::Held(held) | Standing::Sealed(Some(held))) => Some(held),
            _ => None,
        }
    }

    fn held_mut(&mut self, stock: StockId) -> Option<&mut Held> {
        match self.standing.get_mut(&stock) {
            Some(Standing::Held(held) | Standing::Sealed(Some(held))) => Some(held),
            _ => None,
        }
    }

    fn is_sealed(&self, stock: StockId) -> bool {
        matches!(self.standing.get(&stock), Some(Standing::Sealed(_)))
    }

    fn hold(&mut self, stock: StockId, held: Held) {
        let sealed = self.is_sealed(stock);
        self.standing.insert(stock, if sealed { Standing::Sealed(Some(held)) } else { Standing::Held(held) });
    }

    /// What shares a water goes on together.
    fn mix(&mut self, at: At, water: &Water) {
        if water.stocks.iter().any(|stock| self.is_sealed(*stock)) {
            return;
        }
        let members =
            water.stocks.iter().filter_map(|stock| self.held(*stock)).map(|held| held.terms.clone());
        let living = self.living(water, at).map(|residue| residue.terms.clone());
        let Some(mut all) = members.chain(living).reduce(|mut all, one| {
            all.join(&one);
            all
        }) else {
            return;
        };
        let before = all.clone();
        if water.stocks.iter().all(|stock| self.held(*stock).is_none()) {
            self.seen.breached += water.stocks.len();
        }
        for stock in &water.stocks {
            if self.held(*stock).is_some() {
                continue;
            }
            let state = self.state(*stock);
            let born = matches!(state.came, Some(Came::Born { .. })) && state.since == Some(at);
            let start = if born { before.start } else { at };
            all.start = all.start.max(start);
            all.due = all.due.max(plus(start, before.days));
            let terms = Terms::new(start, before.days, before.rule.clone());
            let opened = Opening { at, received: at };
            self.hold(*stock, Held::new(at, opened, terms));
        }
        if all.restarts() {
            all.due = all.due.max(plus(all.start, all.days));
        }
        for stock in &water.stocks {
            let held = self.held_mut(*stock).expect("all are held now");
            let start = if all.restarts() { all.start } else { held.terms.start };
            held.terms = Terms { start, ..all.clone() };
            held.clip();
        }
        self.leave_in(at, water, &all);
    }

    /// Gaps and marks go to all that share a water.
    fn spread(&mut self, at: At, waters: &[Water]) {
        for water in waters {
            let members: Vec<(StockId, Held)> =
                water.stocks.iter().filter_map(|id| Some((*id, self.held(*id)?.clone()))).collect();
            for (id, _) in &members {
                for (other, theirs) in members.iter().filter(|(other, _)| other != id) {
                    // Its own it has anyway.
                    let mut gaps = theirs.gaps.clone();
                    gaps.extend(theirs.running(*other, at));
                    gaps.retain(|(_, _, of)| of != id);
                    self.held_mut(*id).expect("a member").take_on(&gaps, &theirs.marks);
                }
            }
        }
    }
}

/// When anything happens.
fn instants(room: &RoomView<'_>) -> BTreeSet<At> {
    let mut all: BTreeSet<At> = BTreeSet::new();
    for stock in room.stocks.values() {
        all.extend(stock.since);
        all.extend(stock.joined.iter().map(|(at, _)| *at));
        all.extend(stock.turns.iter().map(|turn| turn.at));
        all.extend(stock.stays.iter().flat_map(|s| [Some(s.from), s.until]).flatten());
    }
    for tank in room.tanks.values() {
        all.extend(tank.plumbing.iter().flat_map(|p| [Some(p.from), p.until]).flatten());
        all.extend(tank.hung.iter().flat_map(|h| [Some(h.from), h.until]).flatten());
        all.extend(tank.emptied.iter().map(|e| e.at));
    }
    for system in room.systems.values() {
        all.extend(system.joined.iter().flat_map(|j| [Some(j.from), j.until]).flatten());
        all.extend(system.emptied.iter().map(|e| e.at));
    }
    for treatment in room.treatments.values() {
        all.extend(treatment.from);
        all.extend(treatment.until.map(|(at, _)| at));
    }
    all.extend(room.facts.home.iter().map(|(at, _)| *at));
    all.extend(room.facts.signed.iter().map(|s| s.at));
    all.extend(room.evidence.iter().map(|evidence| match evidence {
        Evidence::Sign { at, .. } | Evidence::Look { at, .. } | Evidence::Restart { at, .. } => *at,
    }));
    all
}
