//! `tarn list show`.

use clap::Args;
use serde_json::Value;

use super::{one, readable};
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Shows the fish of one list.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn list show \"Ines Marlow\"")]
pub struct Show {
    /// Whose list, or the id of its room, or the beginning of either
    which: String,
}

impl Show {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let list = one(readable(&mut session::open(tarn)?)?, &self.which)?;
        if tarn.out.is_json() {
            return tarn.out.data(&list);
        }
        let rows = list["stock"].as_array().into_iter().flatten().map(row).collect();
        tarn.out.table(&["species", "form", "trade name", "brood", "how many"], rows)
    }
}

fn row(row: &Value) -> Vec<String> {
    let text = |field: &str| row[field].as_str().unwrap_or_default().to_owned();
    vec![text("species"), text("form"), text("trade"), text("code"), how_many(row)]
}

/// "2 m 3 f, 10 unsexed".
pub fn how_many(row: &Value) -> String {
    let n = |field: &str| row[field].as_i64().unwrap_or_default();
    let one = |field: &str, word: &str| (n(field) != 0).then(|| format!("{} {word}", n(field)));
    let sexed: Vec<String> = [one("males", "m"), one("females", "f")].into_iter().flatten().collect();
    let all = [
        (!sexed.is_empty()).then(|| sexed.join(" ")),
        one("unsexed", "unsexed"),
        one("eggs", "eggs"),
        (n("of_any_sex") < 0).then(|| format!("less {} of whichever sex", -n("of_any_sex"))),
    ];
    let all: Vec<String> = all.into_iter().flatten().collect();
    if all.is_empty() { "none".into() } else { all.join(", ") }
}
