//! `tarn spawn list`.

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::lineage::SpawningState;
use tarn_domain::streams::{Days, EntityKind};

use super::which;
use crate::commands::lineage::show::parents_words;
use crate::failure::Outcome;
use crate::find::short;
use crate::tarn::Tarn;

/// Lists the spawnings that are under way.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn spawn list\n  tarn spawn list --nothing-for 14")]
pub struct List {
    /// Those that are over, too
    #[arg(long, conflicts_with = "nothing_for")]
    all: bool,
    /// Only fish that were put together so many days ago and showed nothing since
    #[arg(long, value_name = "DAYS")]
    nothing_for: Option<u16>,
}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let now = tarn.now()?;
        let is_meant = |s: &SpawningState| match self.nothing_for {
            Some(days) => s.nothing_for(Days(days), now).is_some(),
            None => self.all || s.is_under_way(),
        };
        let all: Vec<_> = which::all(tarn, &room)?.into_iter().filter(|(_, s)| is_meant(s)).collect();
        if tarn.out.is_json() {
            let told = all.iter().map(|(id, s)| {
                let mut value = serde_json::to_value(s).unwrap_or(Value::Null);
                value["id"] = json!(id);
                value["stage"] = json!(s.stage());
                value["failed"] = json!(s.failed());
                value["eggs"] = json!(s.eggs());
                value["young"] = json!(s.young());
                value
            });
            return tarn.out.data(&told.collect());
        }
        let names = tarn.names(&room, &[EntityKind::Stock, EntityKind::Brood, EntityKind::Tank])?;
        let zone = tarn.zone(&room);
        let row = |(id, s): &(_, SpawningState)| {
            let id: &tarn_domain::streams::SpawningId = id;
            let stage = match (s.failed(), s.stage()) {
                (Some(why), _) => format!("failed, {}", why.plain()),
                (None, Some(stage)) => stage.plain().to_owned(),
                (None, None) => "looked at".to_owned(),
            };
            let broods: Vec<String> = s.broods.iter().map(|brood| names.of(*brood)).collect();
            vec![
                short(id.0),
                stage,
                s.steps.last().map(|step| zone.show_day(step.at)).unwrap_or_default(),
                parents_words(s.sires.as_ref(), &names),
                parents_words(s.dams.as_ref(), &names),
                s.eggs().map(|n| n.to_string()).unwrap_or_default(),
                if s.young() > 0 { s.young().to_string() } else { String::new() },
                broods.join(", "),
            ]
        };
        let head = ["spawning", "stage", "last", "males", "females", "eggs", "young", "brood"];
        tarn.out.table(&head, all.iter().map(row).collect())
    }
}
