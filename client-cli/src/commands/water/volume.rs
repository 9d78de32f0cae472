//! `tarn water volume`.

use clap::Args;
use serde_json::{Value as Json, json};
use tarn_domain::rooms::water::volumes::told_json;

use super::one::{Waters, which_json};
use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Tells how much water there is, gross and net: measured, or reckoned from tanks, sump and pipes less what sand,
/// stones and wood take up. What nobody wrote down is unknown, and said.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn water volume\n  tarn water volume \"Left rack\"",
    after_help = "Written with tarn system set (--gross, --net, --sump, --pipes, --displacement) and\n\
    tarn tank describe (--volume, --displacement). Where there is none, write 0l."
)]
pub struct Volume {
    /// Which water: a system, or a tank; all of them, if none is named
    water: Option<String>,
}

impl Volume {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let waters = Waters::of(tarn, &room)?;
        let which = match &self.water {
            Some(typed) => vec![waters.find(tarn, typed)?],
            None => waters.all(),
        };
        let mut all: Vec<Json> = Vec::new();
        for which in which {
            let (name, volumes) = (waters.name(which), waters.volumes(which)?);
            if tarn.out.is_json() {
                let mut told = which_json(which, &name);
                (told["gross"], told["net"]) = (told_json(&volumes.gross), told_json(&volumes.net));
                all.push(told);
                continue;
            }
            tarn.out.line(&name)?;
            tarn.out.line(&format!("  gross  {}", waters.told(&volumes.gross)))?;
            tarn.out.line(&format!("  net    {}", waters.told(&volumes.net)))?;
        }
        if tarn.out.is_json() { tarn.out.data(&json!(all)) } else { Ok(()) }
    }
}
