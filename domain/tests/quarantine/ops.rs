//! Ops as a test writes them, and a room's record of them.

use tarn_domain::catalogue::{Body, Op, Writer};
use tarn_domain::lineage::{BroodName, YoungFound};
use tarn_domain::parcels::ParcelArrived;
use tarn_domain::quarantine::{
    Evidence, HomeClubSet, LossJudged, QuarantineCleared, QuarantineRestarted, QuarantineWaived, RoomFacts,
    RoomRuleSet, RoomView, Rule, RuleAdopted, Seen, SharedWater, SignOffs, Waiver,
};
use tarn_domain::rooms::ops::{
    Founders, LookDone, SignSeen, StockCameIn, StockCounted, StockEstablished, StockLeft, StockLost,
    StockMerged, StockMoved, StockSplit, SystemJoined, SystemSet, TankAdded, TankEmptied, TankHung,
    TankPlumbed, TreatmentBegan, TreatmentEnded,
};
use tarn_domain::rooms::words::{CameFrom, Cause, Emptied, LeftFor, Origin, Related, TreatedWith};
use tarn_domain::rooms::{Count, Node, Row, Sex};
use tarn_domain::state::{Memory, view};
use tarn_domain::streams::{
    Acceptance, AccountId, At, Clock, ClubId, Days, DeviceId, NodeId, OpId, ParcelId, Patch, Received,
    StockId, SystemId, TankId, TreatmentId, UnitId,
};
use uuid::Uuid;

const BEGIN: i64 = 1_772_323_200;

/// Day n of the room, at midnight.
pub fn day(n: i64) -> At {
    half(2 * n)
}

/// The n-th half day of the room.
pub fn half(n: i64) -> At {
    At::from_seconds(BEGIN + n * 43_200)
}

/// The n-th thing of its kind.
pub fn id(n: usize) -> Uuid {
    Uuid::from_u128(0x0190_d000_0000_7000_8000_0000_0000_0000 | u128::try_from(n).expect("small"))
}

/// A room's record as it is written.
#[derive(Default)]
pub struct Record {
    /// What it folds to.
    pub memory: Memory,
    /// What was written.
    pub ops: Vec<(Op, Acceptance)>,
    folded: usize,
}

impl Record {
    /// Writes an op, dated then, and received at once.
    pub fn write(&mut self, at: At, body: Body) -> OpId {
        self.write_late(at, at, body)
    }

    /// Writes an op, dated then, and received later.
    pub fn write_late(&mut self, at: At, received: At, body: Body) -> OpId {
        let number = self.ops.len() + 1;
        let id = OpId(Uuid::from_u128(0x0190_e000_0000_7000_8000_0000_0000_0000 | number as u128));
        let clock = Clock::at_ms(day(400).ms() + i64::try_from(number).expect("few"));
        let decision = body.writer() == Writer::Decision;
        let accepted =
            Acceptance { by: AccountId(Uuid::nil()).into(), received: Received(received.ms()), decision };
        self.ops.push((Op { id, device: DeviceId(Uuid::nil()), clock, at, body }, accepted));
        id
    }

    /// A record of these.
    pub fn of(ops: &[(Op, Acceptance)]) -> Self {
        Self { ops: ops.to_vec(), ..Self::default() }
    }

    /// Folds what was written.
    pub fn fold(&mut self) -> &Memory {
        let fresh = self.ops[self.folded..].iter().zip(self.folded as u64 + 1..);
        self.memory
            .add(fresh.map(|((op, accepted), seq)| (op.clone(), Some(*accepted), seq)).collect::<Vec<_>>());
        self.folded = self.ops.len();
        &self.memory
    }

    /// The room as the clock reads it; each sign-off is held against the records.
    pub fn view<T>(&self, ask: impl FnOnce(&RoomView<'_>) -> T) -> T {
        let (empty, states) = (RoomFacts::default(), view(self.memory.states()));
        let seen: Vec<&Evidence> = self.memory.evidence().collect();
        let received = |op| {
            let accepted = self.memory.entry(op).and_then(|entry| entry.accepted);
            accepted.expect("all are accepted").received
        };
        ask(&states.for_quarantine(&empty, &seen, &received, SignOffs::Verify))
    }
}

/// So many fish, not told apart.
pub fn fish(n: i64) -> Vec<Row> {
    let n = Count::of(u32::try_from(n).expect("small")).expect("small");
    vec![Row { node: Node::Unassigned, sex: Sex::Unsexed, n, about: false }]
}

/// A tank.
pub fn tank(tank: TankId) -> Body {
    let [stand, shelf, place] = [const { None }; 3];
    Body::TankAdded(TankAdded {
        tank,
        name: "tank".into(),
        stand,
        shelf,
        place,
        volume_ml: None,
        displacement_ml: None,
    })
}

/// A water system.
pub fn system(system: SystemId) -> Body {
    let name = Patch::Keep;
    let (gross_ml, net_ml, sump_ml) = (Patch::Keep, Patch::Keep, Patch::Keep);
    Body::SystemSet(SystemSet {
        system,
        name,
        gross_ml,
        net_ml,
        sump_ml,
        pipes_ml: Patch::Keep,
        displacement_ml: Patch::Keep,
    })
}

/// Fish from outside, of a species.
pub fn came_from(
    (stock, from): (StockId, CameFrom),
    n: i64,
    tank: Option<TankId>,
    species: Option<&str>,
) -> Body {
    let (rows, species) = (fish(n), species.map(str::to_owned));
    let (origin, related) = (Origin::Bought, Related::NotKnown);
    let founders = Founders { node: NodeId(stock.0), origin, related, locality: None, collected: None };
    let ([source, name, form], keeping) = ([const { None }; 3], None);
    Body::StockCameIn(StockCameIn { stock, from, source, name, keeping, species, form, founders, rows, tank })
}

/// Fish from a shop.
pub fn came_in(stock: StockId, n: i64, tank: Option<TankId>) -> Body {
    came_from((stock, CameFrom::Shop), n, tank, None)
}

/// Fish from a parcel.
pub fn arrived(stock: StockId, n: i64, tank: Option<TankId>) -> Body {
    let (parcel, [name, species, form]) = (ParcelId(stock.0), [const { None }; 3]);
    let (alive, dead, ancestry) = (fish(n), Vec::new(), Vec::new());
    Body::ParcelArrived(ParcelArrived { parcel, stock, name, species, form, tank, alive, dead, ancestry })
}

/// Fish that were here.
pub fn home(stock: StockId, n: i64, tank: Option<TankId>) -> Body {
    let ([name, species, form], rows) = ([const { None }; 3], fish(n));
    let (keeping, since, founders) = (None, None, None);
    Body::StockEstablished(StockEstablished {
        stock,
        name,
        keeping,
        species,
        form,
        since,
        founders,
        rows,
        tank,
    })
}

/// Young of this room.
pub fn young(stock: StockId, tank: Option<TankId>) -> Body {
    let (brood, code, name, rows) = (NodeId(stock.0), "A1".to_owned(), BroodName::default(), fish(20));
    let (spawning, window, sires, dams) = (None, None, None, None);
    Body::YoungFound(YoungFound { brood, spawning, code, name, window, sires, dams, stock, rows, tank })
}

/// A move.
pub fn moved(stock: StockId, from: Option<TankId>, to: Option<TankId>) -> Body {
    Body::StockMoved(StockMoved { stock, from, to, companion: false })
}

/// Some fish of a stock are kept apart.
pub fn split(stock: StockId, new: StockId, tank: Option<TankId>) -> Body {
    Body::StockSplit(StockSplit { stock, new, rows: fish(2), tank, name: None })
}

/// Some fish of a stock join another.
pub fn merged(stock: StockId, into: StockId) -> Body {
    Body::StockMerged(StockMerged { stock, into, rows: fish(2) })
}

/// Some were lost.
pub fn lost(stock: StockId, n: i64, cause: Cause, reason: Option<&str>) -> Body {
    let reason = reason.map(str::to_owned);
    Body::StockLost(StockLost { stock, rows: fish(n), cause, reason, incident: None })
}

/// Some were given away.
pub fn left(stock: StockId, n: i64) -> Body {
    let (to, price_minor, currency) = (LeftFor::Person, None, None);
    Body::StockLeft(StockLeft { stock, rows: fish(n), to, price_minor, currency })
}

/// All were counted.
pub fn counted(stock: StockId, n: i64) -> Body {
    Body::StockCounted(StockCounted { stock, rows: fish(n), all: true })
}

/// A tank joins a system, or stands alone.
pub fn plumbed(tank: TankId, system: Option<SystemId>) -> Body {
    Body::TankPlumbed(TankPlumbed { tank, system })
}

/// A box is hung in a tank, or taken out.
pub fn hung(tank: TankId, within: Option<TankId>) -> Body {
    Body::TankHung(TankHung { tank, within })
}

/// Two systems share their water, or no longer do.
pub fn joined(system: SystemId, with: Option<SystemId>) -> Body {
    Body::SystemJoined(SystemJoined { system, with })
}

/// A tank or a system is dried out.
pub fn emptied(tank: Option<TankId>, system: Option<SystemId>) -> Body {
    Body::TankEmptied(TankEmptied { tank, system, how: Emptied::Dried })
}

/// A treatment of a tank or a system.
pub fn treated(treatment: TreatmentId, tank: Option<TankId>, system: Option<SystemId>) -> Body {
    let (with, what) = (TreatedWith::Salt, "salt, 1 g/L".to_owned());
    Body::TreatmentBegan(TreatmentBegan { treatment, system, tank, with, what, by: None, to_end: None })
}

/// It is over.
pub fn treated_until(treatment: TreatmentId) -> Body {
    Body::TreatmentEnded(TreatmentEnded { treatment })
}

/// Something looked wrong.
pub fn sign(stock: Option<StockId>, tank: Option<TankId>, last_seen: Option<At>) -> Body {
    Body::SignSeen(SignSeen { stock, tank, sign: "clamped fins".into(), last_seen })
}

/// Somebody looked.
pub fn looked(tanks: Vec<TankId>) -> Body {
    Body::LookDone(LookDone { tanks, remark: None })
}

/// The keeper begins the days again.
pub fn restarted(stock: StockId, from: At) -> Body {
    Body::QuarantineRestarted(QuarantineRestarted { stock, from, why: "nobody looked".into() })
}

/// A club's rule.
pub fn rule(min_days: u16, shared_water: SharedWater) -> Rule {
    Rule { min_days: Days(min_days), shared_water, ..Rule::shipped() }
}

/// A club adopts a rule, from then on.
pub fn adopted(club: ClubId, version: u32, from: At, rule: Rule) -> Body {
    Body::RuleAdopted(RuleAdopted { club, version, from, rule, relies: Vec::new() })
}

/// A rule of the room's own.
pub fn own_rule(rule: Option<Rule>) -> Body {
    Body::RoomRuleSet(RoomRuleSet { rule })
}

/// The room comes to a club.
pub fn home_club(club: Option<ClubId>, from: At) -> Body {
    Body::HomeClubSet(HomeClubSet { club, from, relies: Vec::new() })
}

/// A steward holds a loss for unexplained.
pub fn judged(entry: OpId) -> Body {
    let (club, steward) = (ClubId(Uuid::nil()), AccountId(Uuid::nil()));
    Body::LossJudged(LossJudged { entry, club, steward, why: "too many".into(), relies: Vec::new() })
}

/// A steward lets things pass.
pub fn waived(waivers: Vec<Waiver>) -> Body {
    let (unit, club, steward) = (UnitId(Uuid::nil()), ClubId(Uuid::nil()), AccountId(Uuid::nil()));
    Body::QuarantineWaived(QuarantineWaived { unit, club, steward, waivers, relies: Vec::new() })
}

/// A sign-off of these, for a club.
pub fn cleared_for(club: ClubId, members: Vec<StockId>, waivers: Vec<Waiver>) -> Body {
    Body::QuarantineCleared(QuarantineCleared {
        unit: UnitId(Uuid::nil()),
        members,
        club,
        steward_club: None,
        rules: Vec::new(),
        held: Days(0),
        start: None,
        steward: AccountId(Uuid::nil()),
        seen: Seen::Visit,
        remark: None,
        waivers,
        relies: Vec::new(),
    })
}

/// A sign-off of these.
pub fn cleared(members: Vec<StockId>) -> Body {
    cleared_for(ClubId(Uuid::nil()), members, Vec::new())
}
