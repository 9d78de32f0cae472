//! `tarn look done`.

use clap::Args;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::LookDone;
use tarn_domain::streams::{EntityKind, TankId};

use crate::commands::arguments::{When, optional};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Records that the fish in tanks were looked at.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn look done A1 A2\n  tarn look done --all --remark \"all feeding\"")]
pub struct Done {
    /// Which tanks
    #[arg(required_unless_present = "all", conflicts_with = "all")]
    tanks: Vec<String>,
    /// Every tank of the room
    #[arg(long)]
    all: bool,
    /// What was noticed
    #[arg(long)]
    remark: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Done {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let tanks: Vec<TankId> = if self.all {
            tarn.store.named(&room, EntityKind::Tank)?.iter().map(|t| TankId(t.entity.id)).collect()
        } else {
            self.tanks.iter().map(|typed| tarn.tank(&room, typed)).collect::<Outcome<_>>()?
        };
        if tanks.is_empty() {
            return Err(Failure::refused("there is no tank in this room yet").hint("tarn tank add NAME"));
        }
        let says = format!("Recorded for {} tanks.", tanks.len());
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded =
            tarn.record(&room, at, Body::LookDone(LookDone { tanks, remark: optional(self.remark)? }))?;
        tarn.tell(recorded, &says, &[])
    }
}
