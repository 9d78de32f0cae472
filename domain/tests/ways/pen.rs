//! The words of the tests: one short method for each thing that can be written.

use tarn_domain::quarantine::{BlockerKind, Rule, Waiver};
use tarn_domain::rooms::words::Cause;
use tarn_domain::streams::{At, ClubId, OpId, StockId, SystemId, TankId, TreatmentId};

use crate::bodies;
use crate::room::{CLUB, Pen};

impl Pen<'_> {
    pub fn home(self, stock: StockId, n: u32, tank: TankId) -> OpId {
        self.write(bodies::home(stock, n, Some(tank)))
    }

    pub fn came_in(self, stock: StockId, n: u32, tank: TankId) -> OpId {
        self.write(bodies::came_in(stock, n, Some(tank)))
    }

    /// In the bag.
    pub fn came_in_bag(self, stock: StockId, n: u32) -> OpId {
        self.write(bodies::came_in(stock, n, None))
    }

    pub fn young(self, stock: StockId, n: u32, tank: TankId) -> OpId {
        self.write(bodies::young(stock, n, Some(tank)))
    }

    pub fn moved(
        self,
        stock: StockId,
        from: impl Into<Option<TankId>>,
        to: impl Into<Option<TankId>>,
    ) -> OpId {
        self.write(bodies::moved(stock, from.into(), to.into(), false))
    }

    pub fn companion(self, stock: StockId, from: TankId, to: TankId) -> OpId {
        self.write(bodies::moved(stock, Some(from), Some(to), true))
    }

    pub fn split(self, stock: StockId, new: StockId, n: u32, tank: impl Into<Option<TankId>>) -> OpId {
        self.write(bodies::split(stock, new, n, tank.into()))
    }

    pub fn merged(self, stock: StockId, into: StockId, n: u32) -> OpId {
        self.write(bodies::merged(stock, into, n))
    }

    pub fn counted(self, stock: StockId, n: u32) -> OpId {
        self.write(bodies::counted(stock, n))
    }

    pub fn lost(self, stock: StockId, n: u32, cause: Cause) -> OpId {
        self.write(bodies::lost(stock, n, cause, None))
    }

    pub fn culled_for(self, stock: StockId, n: u32, reason: &str) -> OpId {
        self.write(bodies::lost(stock, n, Cause::Culled, Some(reason.to_owned())))
    }

    pub fn left(self, stock: StockId, n: u32) -> OpId {
        self.write(bodies::left(stock, n))
    }

    pub fn added(self, tank: TankId) -> OpId {
        self.write(bodies::tank(tank))
    }

    pub fn plumbed(self, tank: TankId, system: Option<SystemId>) -> OpId {
        self.write(bodies::plumbed(tank, system))
    }

    pub fn hung(self, tank: TankId, within: Option<TankId>) -> OpId {
        self.write(bodies::hung(tank, within))
    }

    pub fn joined(self, system: SystemId, with: Option<SystemId>) -> OpId {
        self.write(bodies::joined(system, with))
    }

    pub fn emptied(self, tank: TankId) -> OpId {
        self.write(bodies::emptied(Some(tank), None))
    }

    pub fn emptied_system(self, system: SystemId) -> OpId {
        self.write(bodies::emptied(None, Some(system)))
    }

    pub fn treated(self, treatment: TreatmentId, tank: TankId) -> OpId {
        self.write(bodies::treated(treatment, Some(tank), None))
    }

    pub fn treatment_ended(self, treatment: TreatmentId) -> OpId {
        self.write(bodies::treatment_ended(treatment))
    }

    pub fn sign(self, stock: StockId) -> OpId {
        self.write(bodies::sign(Some(stock), None, None))
    }

    pub fn sign_in(self, tank: TankId) -> OpId {
        self.write(bodies::sign(None, Some(tank), None))
    }

    pub fn sign_last_seen(self, stock: StockId, seen: At) -> OpId {
        self.write(bodies::sign(Some(stock), None, Some(seen)))
    }

    pub fn look(self, tanks: &[TankId]) -> OpId {
        self.write(bodies::look(tanks))
    }

    pub fn restarted(self, stock: StockId, from: At) -> OpId {
        self.write(bodies::restarted(stock, from))
    }

    pub fn withdrawn(self, entry: OpId) -> OpId {
        self.write(bodies::withdrawn(entry))
    }

    pub fn rule(self, club: ClubId, version: u32, rule: Rule) -> OpId {
        let from = self.at();
        self.write(bodies::adopted(club, version, from, rule))
    }

    pub fn own_rule(self, rule: Rule) -> OpId {
        self.write(bodies::own_rule(Some(rule)))
    }

    pub fn home_club(self, club: Option<ClubId>) -> OpId {
        let from = self.at();
        self.write(bodies::home_club(club, from))
    }

    pub fn cleared(self, members: &[StockId]) -> OpId {
        self.write(bodies::cleared(members, CLUB))
    }

    pub fn cleared_for(self, club: ClubId, members: &[StockId]) -> OpId {
        self.write(bodies::cleared(members, club))
    }

    /// A steward lets an entry pass.
    pub fn waived(self, blocker: BlockerKind, entry: OpId) -> OpId {
        let why = "seen at the tank".into();
        let waiver = Waiver { blocker, entry: Some(entry), stock: None, until: None, why };
        self.write(bodies::waived(vec![waiver]))
    }

    /// A steward lets a gap, or many named losses, of a stock pass up to an instant.
    pub fn waived_until(self, blocker: BlockerKind, stock: StockId, until: At) -> OpId {
        let why = "seen at the tank".into();
        let waiver = Waiver { blocker, entry: None, stock: Some(stock), until: Some(until), why };
        self.write(bodies::waived(vec![waiver]))
    }

    /// A steward holds a loss for one that is not explained.
    pub fn judged(self, entry: OpId) -> OpId {
        self.write(bodies::judged(entry))
    }
}
