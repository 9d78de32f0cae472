//! `tarn quarantine own-rule`: a rule of the room's own. It makes the club's stricter, never laxer.

use std::path::PathBuf;

use clap::Args;
use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{RoomRuleSet, Rule};

use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Sets a stricter rule for this room, for fish that come in from now on. Field by field the stricter of it and the
/// club's holds.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn club rule --print > rule.toml\n  tarn quarantine own-rule --file rule.toml\n  \
    tarn quarantine own-rule --none"
)]
pub struct OwnRule {
    /// The rule as TOML
    #[arg(long, value_name = "FILE", required_unless_present = "none", conflicts_with = "none")]
    file: Option<PathBuf>,
    /// None any more
    #[arg(long)]
    none: bool,
}

impl OwnRule {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let rule = match &self.file {
            Some(path) => {
                let text = std::fs::read_to_string(path)
                    .map_err(|e| Failure::refused(format!("{} can't be read: {e}", path.display())))?;
                let rule = Rule::from_toml(&text);
                Some(rule.map_err(|e| Failure::wrong_use(format!("{}: {e}", path.display())))?)
            }
            None => None,
        };
        let says = match &rule {
            Some(rule) => format!(
                "From now on fish that come in are held for {} days at least; the club\u{2019}s rule holds where it is \
                 stricter.",
                rule.min_days.0
            ),
            None => "This room has no rule of its own any more; the club\u{2019}s holds.".into(),
        };
        let recorded = tarn.record(&room, None, Body::RoomRuleSet(RoomRuleSet { rule }))?;
        tarn.tell(recorded, &says, &[])
    }
}
