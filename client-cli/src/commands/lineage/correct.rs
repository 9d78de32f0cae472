//! `tarn brood correct`: its parents are others than was said. Whether that can be is decided by the server, against
//! all rooms.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::lineage::{BroodCorrected, Window};
use tarn_domain::streams::{NodeId, Patch};

use super::parents::ParentsTyped;
use super::which_brood::own;
use crate::commands::arguments::{When, optional};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Says who the parents of a brood are, after all. Everybody who holds fish of it is told.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn brood correct BG-12 --sires \"Blue=1\" --why \"the other male was ill\"\n  \
    tarn brood correct R-4 --sires not-known\n  \
    tarn brood correct D-3 --sires \"Danios=1:750\" --sires \"Reds=2:250\"",
    after_help = "A side that is not named stays as it is. Parents are stocks; =N narrows how many of it could be a parent, \
    =N:W gives them a weight in thousandths (all of a side, 1000 together). The server refuses what would make a fish its \
    own ancestor."
)]
pub struct Correct {
    /// Its code or id
    brood: String,
    #[command(flatten)]
    parents: ParentsTyped,
    /// Why
    #[arg(long)]
    why: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Correct {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (entity, brood) = own(tarn, &room, &self.brood)?;
        let found = brood.found.map_or_else(|| tarn.now(), Ok)?;
        let window = brood.window.unwrap_or(Window { from: found, to: found });
        let unknown = self.parents.not_known();
        let read = self.parents.read(tarn, &room, window)?;
        let side = |unknown: bool, told| if unknown { Patch::Clear } else { Patch::of(told) };
        let sires = side(unknown[0], read.sires.clone());
        let dams = side(unknown[1], read.dams.clone());
        if sires.is_keep() && dams.is_keep() {
            return Err(Failure::wrong_use("neither fathers nor mothers were named")
                .hint("--sires STOCK, --dams STOCK, or not-known"));
        }
        let body = BroodCorrected { brood: NodeId(entity.id), sires, dams, why: optional(self.why)? };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::BroodCorrected(body))?;
        let says =
            format!("{} is corrected; the server has the last word.", brood.code.as_deref().unwrap_or("It"));
        tarn.tell(recorded, &says, &[("brood", json!(entity.id))])
    }
}
