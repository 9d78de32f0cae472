//! The bodies of entries, with what no test here cares about filled in.

use tarn_domain::catalogue::Body;
use tarn_domain::lineage::{BroodName, YoungFound};
use tarn_domain::quarantine::{
    HomeClubSet, LossJudged, QuarantineCleared, QuarantineRestarted, QuarantineWaived, RoomRuleSet, Rule,
    RuleAdopted, Seen, Waiver,
};
use tarn_domain::rooms::ops::{
    Founders, LookDone, SignSeen, StockCameIn, StockCounted, StockEstablished, StockLeft, StockLost,
    StockMerged, StockMoved, StockSplit, SystemJoined, SystemSet, TankAdded, TankEmptied, TankHung,
    TankPlumbed, TreatmentBegan, TreatmentEnded,
};
use tarn_domain::rooms::words::{CameFrom, Cause, Emptied, LeftFor, Origin, Related, TreatedWith};
use tarn_domain::rooms::{Count, Node, Row, Sex};
use tarn_domain::streams::{
    AccountId, At, ClubId, Days, NodeId, OpId, Patch, StockId, SystemId, TankId, TreatmentId, UnitId,
    Withdrawn,
};
use uuid::Uuid;

fn rows(n: u32) -> Vec<Row> {
    let n = Count::of(n).expect("small");
    vec![Row { node: Node::Unassigned, sex: Sex::Unsexed, n, about: false }]
}

pub fn system(system: SystemId) -> Body {
    let [gross_ml, net_ml, sump_ml] = [const { Patch::Keep }; 3];
    Body::SystemSet(SystemSet {
        system,
        name: Patch::Keep,
        gross_ml,
        net_ml,
        sump_ml,
        pipes_ml: Patch::Keep,
        displacement_ml: Patch::Keep,
    })
}

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

pub fn came_in(stock: StockId, n: u32, tank: Option<TankId>) -> Body {
    let (node, origin, related) = (NodeId(stock.0), Origin::Bought, Related::NotKnown);
    let founders = Founders { node, origin, related, locality: None, collected: None };
    let [source, name, species, form] = [const { None }; 4];
    let (from, keeping, rows) = (CameFrom::Shop, None, rows(n));
    let body = StockCameIn { stock, from, source, name, keeping, species, form, founders, rows, tank };
    Body::StockCameIn(body)
}

pub fn home(stock: StockId, n: u32, tank: Option<TankId>) -> Body {
    let [name, species, form] = [const { None }; 3];
    let (keeping, since, founders, rows) = (None, None, None, rows(n));
    let body = StockEstablished { stock, name, keeping, species, form, since, founders, rows, tank };
    Body::StockEstablished(body)
}

pub fn young(stock: StockId, n: u32, tank: Option<TankId>) -> Body {
    let (brood, code, name, rows) = (NodeId(stock.0), "A1".to_owned(), BroodName::default(), rows(n));
    let (spawning, window, sires, dams) = (None, None, None, None);
    Body::YoungFound(YoungFound { brood, spawning, code, name, window, sires, dams, stock, rows, tank })
}

pub fn moved(stock: StockId, from: Option<TankId>, to: Option<TankId>, companion: bool) -> Body {
    Body::StockMoved(StockMoved { stock, from, to, companion })
}

pub fn split(stock: StockId, new: StockId, n: u32, tank: Option<TankId>) -> Body {
    Body::StockSplit(StockSplit { stock, new, rows: rows(n), tank, name: None })
}

pub fn merged(stock: StockId, into: StockId, n: u32) -> Body {
    Body::StockMerged(StockMerged { stock, into, rows: rows(n) })
}

pub fn counted(stock: StockId, n: u32) -> Body {
    Body::StockCounted(StockCounted { stock, rows: rows(n), all: true })
}

pub fn lost(stock: StockId, n: u32, cause: Cause, reason: Option<String>) -> Body {
    Body::StockLost(StockLost { stock, rows: rows(n), cause, reason, incident: None })
}

pub fn left(stock: StockId, n: u32) -> Body {
    let (rows, to, price_minor, currency) = (rows(n), LeftFor::Person, None, None);
    Body::StockLeft(StockLeft { stock, rows, to, price_minor, currency })
}

pub fn plumbed(tank: TankId, system: Option<SystemId>) -> Body {
    Body::TankPlumbed(TankPlumbed { tank, system })
}

pub fn hung(tank: TankId, within: Option<TankId>) -> Body {
    Body::TankHung(TankHung { tank, within })
}

pub fn joined(system: SystemId, with: Option<SystemId>) -> Body {
    Body::SystemJoined(SystemJoined { system, with })
}

pub fn emptied(tank: Option<TankId>, system: Option<SystemId>) -> Body {
    Body::TankEmptied(TankEmptied { tank, system, how: Emptied::Dried })
}

pub fn treated(treatment: TreatmentId, tank: Option<TankId>, system: Option<SystemId>) -> Body {
    let (with, what, by) = (TreatedWith::Medicine, "by its label".to_owned(), None);
    Body::TreatmentBegan(TreatmentBegan { treatment, system, tank, with, what, by, to_end: None })
}

pub fn treatment_ended(treatment: TreatmentId) -> Body {
    Body::TreatmentEnded(TreatmentEnded { treatment })
}

pub fn sign(stock: Option<StockId>, tank: Option<TankId>, last_seen: Option<At>) -> Body {
    Body::SignSeen(SignSeen { stock, tank, sign: "white spots".into(), last_seen })
}

pub fn look(tanks: &[TankId]) -> Body {
    Body::LookDone(LookDone { tanks: tanks.to_vec(), remark: None })
}

pub fn restarted(stock: StockId, from: At) -> Body {
    Body::QuarantineRestarted(QuarantineRestarted { stock, from, why: "nobody looked".into() })
}

pub fn withdrawn(entry: OpId) -> Body {
    Body::Withdrawn(Withdrawn { entry, why: None })
}

pub fn adopted(club: ClubId, version: u32, from: At, rule: Rule) -> Body {
    Body::RuleAdopted(RuleAdopted { club, version, from, rule, relies: Vec::new() })
}

pub fn own_rule(rule: Option<Rule>) -> Body {
    Body::RoomRuleSet(RoomRuleSet { rule })
}

pub fn home_club(club: Option<ClubId>, from: At) -> Body {
    Body::HomeClubSet(HomeClubSet { club, from, relies: Vec::new() })
}

pub fn cleared(members: &[StockId], club: ClubId) -> Body {
    Body::QuarantineCleared(QuarantineCleared {
        unit: UnitId(Uuid::nil()),
        members: members.to_vec(),
        club,
        steward_club: None,
        rules: Vec::new(),
        held: Days(30),
        start: None,
        steward: AccountId(Uuid::nil()),
        seen: Seen::Visit,
        remark: None,
        waivers: Vec::new(),
        relies: Vec::new(),
    })
}

pub fn waived(waivers: Vec<Waiver>) -> Body {
    let (unit, club, steward) = (UnitId(Uuid::nil()), ClubId(Uuid::nil()), AccountId(Uuid::nil()));
    Body::QuarantineWaived(QuarantineWaived { unit, club, steward, waivers, relies: Vec::new() })
}

pub fn judged(entry: OpId) -> Body {
    let (club, steward) = (ClubId(Uuid::nil()), AccountId(Uuid::nil()));
    Body::LossJudged(LossJudged { entry, club, steward, why: "too many".into(), relies: Vec::new() })
}
