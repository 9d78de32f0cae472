//! `tarn club board`: how many days a notice stands.

use clap::Args;
use serde_json::json;

use super::list::club_id;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Shows how many days a notice stands on a club's board; a secretary sets it.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn club board\n  tarn club board --days 30 --club \"Lakeside\"")]
pub struct Board {
    /// Notices put up from now on stand for so many days, 1 to 365
    #[arg(long)]
    days: Option<u16>,
    /// Which club, if you are in several
    #[arg(long)]
    club: Option<String>,
}

impl Board {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let path = format!("clubs/{}/board", club_id(&mut remote, self.club.as_deref())?);
        if let Some(days) = self.days {
            remote.put(&path, &json!({ "notice_days": days }))?;
        }
        let answer = remote.get(&path)?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.line(&format!("A notice stands for {} days.", answer["notice_days"]))
    }
}
