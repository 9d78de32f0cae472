//! `tarn spawn swimming` and `failed`: how a spawning ends.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::lineage::{SpawningFailed, WhyFailed, YoungSwam};

use super::which;
use crate::commands::arguments::When;
use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Records that the young of a spawning swim free.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn spawn swimming P-7")]
pub struct Swimming {
    /// Which spawning: a stock of its fish, eggs or young, or its id; the only one under way
    spawning: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Swimming {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (spawning, _) = which::under_way(tarn, &room, self.spawning.as_deref())?;
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::YoungSwam(YoungSwam { spawning }))?;
        tarn.tell(recorded, "Recorded: they swim free.", &[("spawning", json!(spawning))])
    }
}

/// Records that nothing comes of a spawning. Eggs that are lost are a loss: tarn stock lost.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn spawn failed \"Pearl pair\" --why fungus")]
pub struct Failed {
    /// Which spawning: a stock of its fish or eggs, or its id; the only one under way
    spawning: Option<String>,
    /// Why: eaten, infertile, fungus, unknown
    #[arg(long, value_name = "WORD", default_value = "unknown", value_parser = why)]
    why: WhyFailed,
    #[command(flatten)]
    when: When,
}

fn why(text: &str) -> Result<WhyFailed, String> {
    serde_json::from_value(json!(text)).map_err(|_| "one of: eaten, infertile, fungus, unknown".to_owned())
}

impl Failed {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (spawning, state) = which::under_way(tarn, &room, self.spawning.as_deref())?;
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let body = SpawningFailed { spawning, why: self.why };
        let recorded = tarn.record(&room, at, Body::SpawningFailed(body))?;
        let mut left = 0;
        for stock in &state.stocks {
            left += tarn.stock_state(&room, *stock)?.numbers.spread().eggs;
        }
        let says = if left > 0 {
            format!(
                "Recorded: {}. By the records {left} eggs are left; what is lost of them: tarn stock lost.",
                self.why.plain()
            )
        } else {
            format!("Recorded: {}.", self.why.plain())
        };
        tarn.tell(recorded, &says, &[("spawning", json!(spawning))])
    }
}
