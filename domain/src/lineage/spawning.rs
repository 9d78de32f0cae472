//! Folds a spawning from its steps, in whatever order they became known. It has no maker: each step stands by itself.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::ops::{Parents, Window, YoungFound, stocks_of};
use super::steps::{EggsChecked, EggsCollected, EggsHatched, SpawningFailed, Together, WhyFailed, YoungSwam};
use crate::rooms::{Field, Finding, common_findings};
use crate::streams::{At, Days, NodeId, OpId, Patch, Standing, StockId, TankId, Touch};

/// What a step says of a spawning.
#[derive(Debug, Clone, Copy)]
pub enum SpawningEvent<'a> {
    /// Fish were put together.
    SetUp(&'a Together),
    /// They spawned.
    Seen(&'a Together),
    /// A livebearer dropped.
    Dropped(&'a Together),
    /// Eggs were picked.
    Collected(&'a EggsCollected),
    /// Young were found.
    Found(&'a YoungFound),
    /// A look at the eggs.
    Checked(&'a EggsChecked),
    /// Some hatched.
    Hatched(&'a EggsHatched),
    /// The young swim free.
    Swam(&'a YoungSwam),
    /// Nothing comes of it.
    Failed(&'a SpawningFailed),
}

/// How far a spawning has come; a later one is further.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Fish are together; nothing was seen.
    SetUp,
    /// They spawned.
    Spawned,
    /// There are eggs.
    Eggs,
    /// There are young.
    Young,
    /// They swim free.
    Swimming,
}

impl Stage {
    /// In plain words.
    pub fn plain(self) -> &'static str {
        match self {
            Self::SetUp => "set up",
            Self::Spawned => "spawned",
            Self::Eggs => "eggs collected",
            Self::Young => "young",
            Self::Swimming => "swimming free",
        }
    }
}

/// What a step was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "step")]
pub enum StepKind {
    /// Fish were put together.
    SetUp,
    /// They spawned.
    Seen,
    /// A livebearer dropped.
    Dropped,
    /// So many eggs were picked.
    Collected {
        /// How many.
        n: i64,
    },
    /// So many young were found.
    Found {
        /// How many.
        n: i64,
    },
    /// A look at the eggs: so many laid, so many with fungus.
    Checked {
        /// Laid, as far as can be told.
        laid: Option<i64>,
        /// With fungus.
        fungused: Option<i64>,
    },
    /// So many hatched.
    Hatched {
        /// How many.
        n: i64,
    },
    /// They swim free.
    Swam,
    /// Nothing comes of it.
    Failed {
        /// Why.
        why: WhyFailed,
    },
}

impl StepKind {
    /// How far it shows the spawning to be; none for a look and for an end.
    pub fn stage(self) -> Option<Stage> {
        Some(match self {
            Self::SetUp => Stage::SetUp,
            Self::Seen => Stage::Spawned,
            Self::Collected { .. } => Stage::Eggs,
            Self::Dropped | Self::Found { .. } | Self::Hatched { .. } => Stage::Young,
            Self::Swam => Stage::Swimming,
            Self::Checked { .. } | Self::Failed { .. } => return None,
        })
    }
}

/// One step, as it counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Step {
    /// When it happened.
    pub at: At,
    /// Its entry.
    pub op: OpId,
    /// What it was.
    #[serde(flatten)]
    pub kind: StepKind,
}

/// A spawning as its steps tell it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct SpawningState {
    /// The steps that count, by when they happened.
    pub steps: Vec<Step>,
    /// The males, as told last; none: not told.
    pub sires: Option<Parents>,
    /// The females.
    pub dams: Option<Parents>,
    /// Where, as told last.
    pub tank: Option<TankId>,
    /// From the earliest to the latest that eggs may have been laid or young born, if that is told.
    pub window: Option<Window>,
    /// The broods that came of it.
    pub broods: BTreeSet<NodeId>,
    /// The stocks that they were found or picked as.
    pub stocks: BTreeSet<StockId>,
    /// What contradicts itself.
    pub findings: BTreeSet<Finding>,
}

impl SpawningState {
    /// Whether any step counts.
    pub fn is_known(&self) -> bool {
        !self.steps.is_empty()
    }

    /// How far it has come; none when only a look or an end is known of it.
    pub fn stage(&self) -> Option<Stage> {
        self.steps.iter().filter_map(|step| step.kind.stage()).max()
    }

    /// Why it came to nothing, if its last step says so. What is picked, found or hatched later goes on.
    pub fn failed(&self) -> Option<WhyFailed> {
        let last = self.steps.iter().rev().find(|step| !matches!(step.kind, StepKind::Checked { .. }))?;
        if let StepKind::Failed { why } = last.kind { Some(why) } else { None }
    }

    /// Whether there is more to come of it.
    pub fn is_under_way(&self) -> bool {
        self.failed().is_none() && self.stage() != Some(Stage::Swimming)
    }

    /// The stocks of its parents, each once.
    pub fn spawners(&self) -> BTreeSet<StockId> {
        stocks_of([&self.sires, &self.dams])
    }

    /// Since when the fish are together and nothing was seen, if that is for at least so many days.
    pub fn nothing_for(&self, days: Days, now: At) -> Option<At> {
        let since = self.steps.iter().rev().find(|step| step.kind == StepKind::SetUp)?.at;
        let waits = self.stage() == Some(Stage::SetUp) && self.failed().is_none();
        (waits && since.plus(days) <= now).then_some(since)
    }

    /// How many eggs there were at most by any telling: picked in all, or laid as a look found.
    pub fn eggs(&self) -> Option<i64> {
        let picked: i64 =
            self.steps.iter().map(|s| if let StepKind::Collected { n } = s.kind { n } else { 0 }).sum();
        let laid = self.steps.iter().filter_map(|s| match s.kind {
            StepKind::Checked { laid, .. } => laid,
            _ => None,
        });
        laid.chain((picked > 0).then_some(picked)).max()
    }

    /// How many hatched or were found, as far as told.
    pub fn young(&self) -> i64 {
        let young = self.steps.iter().map(|step| match step.kind {
            StepKind::Hatched { n } | StepKind::Found { n } => n,
            _ => 0,
        });
        young.sum()
    }
}

/// Folds a spawning from the ops that touch it, in their order.
pub fn fold_spawning(touches: &[Touch<SpawningEvent<'_>>]) -> SpawningState {
    let mut state = SpawningState { findings: common_findings(touches), ..SpawningState::default() };
    let (mut sires, mut dams, mut tank) = (Field::default(), Field::default(), Field::default());
    for touch in touches.iter().filter(|touch| touch.standing == Standing::Live) {
        let by = touch.written;
        let mut told = |of: [&Option<Parents>; 2], place: Option<TankId>| {
            sires.edit(by, &Patch::of(of[0].clone()));
            dams.edit(by, &Patch::of(of[1].clone()));
            tank.edit(by, &Patch::of(place));
        };
        let mut together = |b: &Together, kind| {
            told([&b.sires, &b.dams], b.tank);
            kind
        };
        let kind = match touch.event {
            SpawningEvent::SetUp(b) => together(b, StepKind::SetUp),
            SpawningEvent::Seen(b) => together(b, StepKind::Seen),
            SpawningEvent::Dropped(b) => together(b, StepKind::Dropped),
            SpawningEvent::Collected(b) => {
                if let Some(new) = &b.new {
                    told([&new.sires, &new.dams], None);
                }
                state.take(b.brood, b.stock, Some(b.window));
                StepKind::Collected { n: b.n.get() }
            }
            SpawningEvent::Found(b) => {
                told([&b.sires, &b.dams], None);
                state.take(b.brood, b.stock, b.window);
                StepKind::Found { n: b.rows.iter().map(|row| row.n.get()).sum() }
            }
            SpawningEvent::Checked(b) => {
                StepKind::Checked { laid: b.laid.map(|n| n.get()), fungused: b.fungused.map(|n| n.get()) }
            }
            SpawningEvent::Hatched(b) => {
                state.stocks.insert(b.stock);
                StepKind::Hatched { n: b.rows.iter().map(|row| row.n.get()).sum() }
            }
            SpawningEvent::Swam(_) => StepKind::Swam,
            SpawningEvent::Failed(b) => StepKind::Failed { why: b.why },
        };
        state.steps.push(Step { at: touch.counts_at, op: by.id, kind });
    }
    state.sires = sires.value;
    state.dams = dams.value;
    state.tank = tank.value;
    state
}

impl SpawningState {
    fn take(&mut self, brood: NodeId, stock: StockId, window: Option<Window>) {
        self.broods.insert(brood);
        self.stocks.insert(stock);
        self.window = match (self.window, window) {
            (Some(a), Some(b)) => Some(a.with(b)),
            (known, told) => known.or(told),
        };
    }
}
