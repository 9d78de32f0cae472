//! `tarn line group show`.

use clap::Args;
use serde_json::Value;

use super::{name, names, one, text};
use crate::commands::lineage::lists::how_many;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Shows who keeps which broods of a line, how many live and when they were last counted.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn line group show Campo\n  tarn line group show")]
pub struct Show {
    /// Which group, if you are in several: its line, species or id, or the beginning of one
    which: Option<String>,
}

impl Show {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let id = text(&one(&mut remote, self.which.as_deref())?, "id");
        let group = remote.get(&format!("line-groups/{id}"))?;
        if tarn.out.is_json() {
            return tarn.out.data(&group);
        }
        if group["state"] == "invited" {
            let by = group["invited_by"].as_str().unwrap_or("a member");
            tarn.out.say(&format!("{by} asks you in: tarn line group join. Broods are shown to members."));
        }
        tarn.out.say(&format!("{}: {}", name(&group), names(&group["members"])));
        let kept = group["kept"].as_array().into_iter().flatten();
        tarn.out.table(
            &["keeper", "brood", "month", "form", "how many", "last counted"],
            kept.flat_map(rows).collect(),
        )
    }
}

fn rows(kept: &Value) -> Vec<Vec<String>> {
    let who = names(&kept["who"]);
    let broods = kept["broods"].as_array().into_iter().flatten();
    let row = |brood: &Value| {
        let field = |field: &str| text(brood, field);
        vec![
            who.clone(),
            field("code"),
            field("month"),
            field("form"),
            how_many(brood),
            field("last_counted"),
        ]
    };
    broods.map(row).collect()
}
