//! `tarn spawn set-up`, `seen` and `drop`: how a spawning begins.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::lineage::{Together, Window};
use tarn_domain::streams::{EntityKind, SpawningId};

use super::which;
use crate::clock;
use crate::commands::arguments::When;
use crate::commands::lineage::parents::ParentsTyped;
use crate::failure::{Failure, Outcome};
use crate::find::short;
use crate::tarn::Tarn;

/// Who, where and when.
#[derive(Debug, Args)]
pub struct There {
    #[command(flatten)]
    parents: ParentsTyped,
    /// Where [default: the tank that they all swim in]
    #[arg(long)]
    tank: Option<String>,
    #[command(flatten)]
    when: When,
}

impl There {
    /// Records a step of the spawning that it continues, or of a new one.
    fn step(
        self,
        tarn: &mut Tarn,
        continues: bool,
        says: &str,
        body: impl FnOnce(Together) -> Body,
    ) -> Outcome {
        let room = tarn.room()?;
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let then = at.map_or_else(|| tarn.now(), Ok)?;
        let parents = self.parents.read(tarn, &room, Window { from: then, to: then })?;
        if parents.stocks().is_empty() {
            return Err(Failure::wrong_use(
                "say which fish: --parents STOCK, --sires and --dams, or --there TANK",
            ));
        }
        let tank = self.tank.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?;
        let tank = tank.or_else(|| parents.tank());
        let known = if continues { which::continued(tarn, &room, &parents, which::is_set_up)? } else { None };
        let spawning = known.unwrap_or_else(|| SpawningId(clock::new_id()));
        let warning = parents.warning(&tarn.names(&room, &[EntityKind::Stock])?);
        let together = Together { spawning, sires: parents.sires, dams: parents.dams, tank };
        let recorded = tarn.record(&room, at, body(together))?;
        let says = format!("{says}: spawning {}.{warning}", short(spawning.0));
        tarn.tell(recorded, &says, &[("spawning", json!(spawning)), ("continued", json!(known.is_some()))])
    }
}

/// Records that fish were put together to spawn.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn spawn set-up --parents \"Blue pair\"\n  \
    tarn spawn set-up --sires \"Dark males=1\" --dams \"Dark females=2\" --tank S3")]
pub struct SetUp {
    #[command(flatten)]
    there: There,
}

impl SetUp {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        self.there.step(tarn, false, "Set up", Body::PairSetUp)
    }
}

/// Records that fish spawned, or that their eggs were seen.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn spawn seen --parents \"Blue pair\" --at 07:30")]
pub struct Seen {
    #[command(flatten)]
    there: There,
}

impl Seen {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        self.there.step(tarn, true, "They spawned", Body::SpawnSeen)
    }
}

/// Records that a livebearer dropped her young; count them with: tarn young found.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn spawn drop --dams \"Red females=1\"")]
pub struct Drop {
    #[command(flatten)]
    there: There,
}

impl Drop {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        self.there.step(tarn, true, "She dropped", Body::DropSeen)
    }
}
