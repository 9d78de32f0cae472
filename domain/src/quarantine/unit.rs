//! A unit: all stocks that share a water in quarantine, and how it stands at an instant.

use uuid::Uuid;

use super::member::{Cause, Member};
use crate::clubs::SharedWater;
use crate::streams::{At, Days, UnitId};

/// How a unit stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum UnitState {
    /// Still in the bag: the days have not begun.
    InTheBag,
    /// The days run.
    Running,
    /// The days are done; a steward has to sign.
    Due,
}

impl UnitState {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::InTheBag => "in the bag",
            Self::Running => "running",
            Self::Due => "due",
        }
    }
}

/// All stocks that share a water in quarantine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unit {
    /// UUIDv5 of the member that was opened first and its opening.
    pub id: UnitId,
    /// Its members, in order of id.
    pub members: Vec<Member>,
    /// How it stands.
    pub state: UnitState,
    /// When the clock last started; none in the bag.
    pub start: Option<At>,
    /// When the days are done; none in the bag.
    pub due: Option<At>,
    /// How many days it is held.
    pub days: Days,
    /// Whole days done.
    pub done: Days,
    /// Which way of counting is in use.
    pub shared_water: SharedWater,
}

impl Unit {
    /// A bag that was not opened: its days have not begun.
    pub(super) fn of_bag(bag: Member) -> Self {
        let (id, state) = (quarantine_id(&bag), UnitState::InTheBag);
        let (days, shared_water) = (bag.days, bag.rule.shared_water);
        Self { id, members: vec![bag], state, start: None, due: None, days, done: Days(0), shared_water }
    }

    /// What shares a water; none if nobody in it is held.
    pub(super) fn of_members(members: Vec<Member>, now: At) -> Option<Self> {
        let first = members.iter().min_by_key(|m| (m.since, m.stock))?;
        let mut all = first.clone();
        members.iter().for_each(|member| all.take_on(member));
        let done = (now.seconds() - all.start.seconds()) / 86_400;
        Some(Self {
            id: quarantine_id(first),
            state: if now >= all.due { UnitState::Due } else { UnitState::Running },
            start: Some(all.start),
            due: Some(all.due),
            days: all.days,
            done: Days(u16::try_from(done.max(0)).unwrap_or(u16::MAX)),
            shared_water: all.rule.shared_water,
            members,
        })
    }
}

/// The id of a stock's quarantine: of the stock and the op that brought it. A stock that was here before may be
/// held more than once, so there the instant counts too.
fn quarantine_id(member: &Member) -> UnitId {
    let mut opening = member.opened_by.0.as_bytes().to_vec();
    if member.cause != Cause::Introduced {
        opening.extend(member.since.seconds().to_be_bytes());
    }
    UnitId(Uuid::new_v5(&member.stock.0, &opening))
}
