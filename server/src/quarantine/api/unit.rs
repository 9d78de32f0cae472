//! Units as they are told over JSON.

use serde::Serialize;
use tarn_domain::quarantine::{BlockerKind, SharedWater, Unit};
use tarn_domain::state::{Blocker, RoomStates, view};
use tarn_domain::streams::{At, ClubId, Days, OpId, StockId, StreamId, UnitId};
use utoipa::ToSchema;

use crate::quarantine::actions::{Looked, RoomUnits};

/// Units in quarantine, by room
#[derive(Serialize, ToSchema)]
pub struct Units {
    /// By room.
    pub rooms: Vec<UnitsOfRoom>,
}

/// The units of a room
#[derive(Serialize, ToSchema)]
pub struct UnitsOfRoom {
    #[schema(value_type = Uuid)]
    room: StreamId,
    name: String,
    /// The greatest number in the room's stream, to be said with a signature
    head: u64,
    /// As what the caller sees it: `keeper` or `steward`
    r#as: &'static str,
    units: Vec<UnitTold>,
}

/// All stocks that share a water in quarantine; cleared as a whole
#[derive(Serialize, ToSchema)]
#[schema(as = Unit)]
pub struct UnitTold {
    #[schema(value_type = Uuid)]
    unit: UnitId,
    /// `in the bag`, `running`, `treating`, `due` or `recalled`
    state: &'static str,
    /// When the clock last started; null in the bag
    #[schema(value_type = Option<String>, required)]
    start: Option<At>,
    /// When the days are done; null in the bag, and while a treatment runs
    #[schema(value_type = Option<String>, required)]
    due: Option<At>,
    /// How many days it is held
    #[schema(value_type = u16)]
    days: Days,
    /// Whole days done
    #[schema(value_type = u16)]
    days_done: Days,
    /// `restart` or `wait_for_last`
    shared_water: &'static str,
    /// Those that have a say in it
    #[schema(value_type = Vec<Uuid>)]
    clubs: Vec<ClubId>,
    members: Vec<UnitMember>,
    /// What is in the way of a sign-off
    blockers: Vec<UnitBlocker>,
    /// Every time the days began, the first first
    runs: Vec<UnitRun>,
}

/// A stock in quarantine
#[derive(Serialize, ToSchema)]
pub struct UnitMember {
    #[schema(value_type = Uuid)]
    stock: StockId,
    #[schema(required)]
    name: Option<String>,
    #[schema(required)]
    species: Option<String>,
    /// How many fish
    #[schema(required)]
    total: Option<i64>,
    /// What the tank they are in is called
    #[schema(required)]
    tank: Option<String>,
    /// Since when it is in quarantine
    #[schema(value_type = String)]
    since: At,
    /// When its clock last started
    #[schema(value_type = String)]
    start: At,
    /// `introduced`, `breach`, `companion` or `descent`
    cause: &'static str,
}

/// Something in the way of a sign-off
#[derive(Serialize, ToSchema)]
pub struct UnitBlocker {
    /// What a waiver names it by
    key: String,
    /// `observation-gap`, `recorded-late`, `evidence-withdrawn`, `found-more` or `many-named-losses`
    #[schema(value_type = String)]
    blocker: BlockerKind,
    /// The entry that it is about
    #[schema(value_type = Option<Uuid>, required)]
    entry: Option<OpId>,
    /// The stock that it is about
    #[schema(value_type = Option<Uuid>, required)]
    stock: Option<StockId>,
}

/// The days began, or began again
#[derive(Serialize, ToSchema)]
pub struct UnitRun {
    #[schema(value_type = String)]
    start: At,
    /// `arrived`, `breached`, `sign`, `loss`, `treatment` or `keeper`
    why: &'static str,
}

impl UnitsOfRoom {
    /// Of a room, for one who looks at it as a keeper or steward.
    pub fn of(room: &RoomUnits, looked: Looked) -> Self {
        let states = view(room.held.memory.states());
        let each = room.units().iter().zip(&room.clubs).zip(&room.quarantine.blockers);
        Self {
            room: room.room,
            name: room.name.clone(),
            head: room.head,
            r#as: if looked == Looked::Keeper { "keeper" } else { "steward" },
            units: each.map(|((unit, clubs), blockers)| told(&states, unit, clubs, blockers)).collect(),
        }
    }
}

fn told(states: &RoomStates<'_>, unit: &Unit, clubs: &[ClubId], blockers: &[Blocker]) -> UnitTold {
    UnitTold {
        unit: unit.id,
        state: unit.state.word(),
        start: unit.start,
        due: unit.due,
        days: unit.days,
        days_done: unit.done,
        shared_water: if unit.shared_water == SharedWater::Restart { "restart" } else { "wait_for_last" },
        clubs: clubs.to_vec(),
        members: members(states, unit),
        blockers: blockers.iter().map(in_the_way).collect(),
        runs: unit.runs.iter().map(|run| UnitRun { start: run.start, why: run.why.word() }).collect(),
    }
}

fn members(states: &RoomStates<'_>, unit: &Unit) -> Vec<UnitMember> {
    let told = unit.members.iter().map(|member| {
        let stock = states.stocks.get(&member.stock);
        let tank = stock.and_then(|s| s.place()).flatten().and_then(|t| states.tanks.get(&t));
        UnitMember {
            stock: member.stock,
            name: stock.and_then(|s| s.name.clone()),
            species: stock.and_then(|s| s.species.clone()),
            total: stock.map(|s| s.total()),
            tank: tank.and_then(|t| t.name.clone()),
            since: member.since,
            start: member.start,
            cause: member.cause.word(),
        }
    });
    told.collect()
}

fn in_the_way(blocker: &Blocker) -> UnitBlocker {
    UnitBlocker {
        key: blocker.key(),
        blocker: blocker.kind(),
        entry: blocker.entry(),
        stock: blocker.stock(),
    }
}
