//! `tarn club rule`: adopts a written quarantine rule.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use tarn_domain::quarantine::Rule as Written;

use super::list::club_id;
use crate::failure::{Failure, Outcome};
use crate::sync::session;
use crate::tarn::Tarn;

/// Adopts a quarantine rule for a club, or prints the shipped one to begin with.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn club rule --print > rule.toml\n  tarn club rule --file rule.toml\n  \
    tarn club rule --shipped --club \"Lakeside\""
)]
pub struct Rule {
    /// The rule as TOML
    #[arg(long, value_name = "FILE", required_unless_present_any = ["print", "shipped"])]
    file: Option<PathBuf>,
    /// Adopt the shipped rule as it is
    #[arg(long, conflicts_with = "file")]
    shipped: bool,
    /// Print the shipped rule with its sources
    #[arg(long, conflicts_with_all = ["file", "shipped"])]
    print: bool,
    /// Which club, if you are in several
    #[arg(long)]
    club: Option<String>,
}

impl Rule {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        if self.print {
            return tarn.out.raw(Written::shipped_text().trim_end());
        }
        let rule = match &self.file {
            Some(path) => {
                let text = std::fs::read_to_string(path)
                    .map_err(|e| Failure::refused(format!("{} can't be read: {e}", path.display())))?;
                Written::from_toml(&text)
                    .map_err(|e| Failure::wrong_use(format!("{}: {e}", path.display())))?
            }
            None => Written::shipped(),
        };
        let mut remote = session::open(tarn)?;
        let club = club_id(&mut remote, self.club.as_deref())?;
        let answer = remote.post(&format!("clubs/{club}/rule"), &json!({ "rule": rule }))?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.say(&format!("Adopted as version {}.", answer["version"]));
        Ok(())
    }
}
