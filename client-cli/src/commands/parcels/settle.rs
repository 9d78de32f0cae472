//! `tarn parcel overdue` and `settle`: what officers do about parcels that nobody closed.

use clap::Args;
use serde_json::json;
use tarn_domain::parcels::Outcome as Became;
use tarn_domain::streams::ParcelId;

use crate::clock;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Lists the parcels of your club's members that were handed over 14 days ago or more and are still open.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn parcel overdue")]
pub struct Overdue {}

impl Overdue {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let answer = session::open(tarn)?.get("parcels/overdue")?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer["parcels"]);
        }
        let rows = answer["parcels"].as_array().into_iter().flatten().map(|parcel| {
            let text = |name: &str| parcel[name].as_str().unwrap_or_default().to_owned();
            vec![text("parcel"), parcel["open"].to_string(), text("handed_at")]
        });
        tarn.out.table(&["parcel", "open", "handed over"], rows.collect())
    }
}

/// Says, as an officer who is no party, what became of the fish of a parcel that are still open.
#[derive(Debug, Args)]
#[command(
    before_help = "Example:\n  tarn parcel settle 0190a1b2-0000-7000-8000-00000000000e --as lost --why \"both sides say so\""
)]
pub struct Settle {
    /// The parcel's whole id
    parcel: ParcelId,
    /// What became of them: arrived, returned, lost
    #[arg(long = "as", value_name = "WORD", value_parser = became)]
    became: Became,
    /// Why: told to both sides
    #[arg(long)]
    why: String,
}

fn became(word: &str) -> Result<Became, String> {
    let all = Became::ALL;
    all.into_iter()
        .find(|outcome| outcome.word() == word)
        .ok_or_else(|| format!("{word:?} is none of {}", all.map(Became::word).join(", ")))
}

impl Settle {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let body = json!({"id": clock::new_id(), "outcome": self.became, "why": self.why});
        let answer = session::open(tarn)?.post(&format!("parcels/{}/settlement", self.parcel), &body)?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.say("Settled. Both sides are told.");
        Ok(())
    }
}
