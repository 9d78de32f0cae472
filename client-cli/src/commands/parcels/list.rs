//! `tarn parcel list`.

use clap::Args;
use serde_json::json;
use tarn_domain::streams::EntityKind;

use super::show::{all, parcel_json, stage};
use crate::failure::Outcome;
use crate::find::short;
use crate::sync::session;
use crate::tarn::Tarn;

/// Lists the parcels of this room; with --incoming those that are on their way to you.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn parcel list\n  tarn parcel list --incoming")]
pub struct List {
    /// Ask the server which are on their way to you, or were (needs a network)
    #[arg(long)]
    incoming: bool,
}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        if self.incoming {
            return incoming(tarn);
        }
        let room = tarn.room()?;
        let parcels = all(tarn, &room)?;
        if tarn.out.is_json() {
            let all: Vec<_> = parcels.iter().map(|(id, p)| parcel_json(*id, p)).collect();
            return tarn.out.data(&json!(all));
        }
        let names = tarn.names(&room, &[EntityKind::Stock])?;
        let rows = parcels
            .iter()
            .map(|(id, p)| {
                let what: Vec<String> =
                    p.rows.iter().map(|r| format!("{} {}", r.n.get(), names.of(r.stock))).collect();
                let what = if what.is_empty() {
                    p.stock.map(|s| names.of(s)).unwrap_or_default()
                } else {
                    what.join(", ")
                };
                vec![short(id.0), stage(p).into(), p.to.clone().unwrap_or_default(), what]
            })
            .collect();
        tarn.out.table(&["parcel", "stage", "to", "fish"], rows)
    }
}

fn incoming(tarn: &Tarn) -> Outcome {
    let answer = session::open(tarn)?.get("parcels")?;
    if tarn.out.is_json() {
        return tarn.out.data(&answer["parcels"]);
    }
    let mut rows = Vec::new();
    for parcel in answer["parcels"].as_array().into_iter().flatten() {
        let text = |name: &str| parcel[name].as_str().unwrap_or_default().to_owned();
        rows.push(vec![text("parcel"), text("state"), text("to"), text("handed_at")]);
    }
    tarn.out.table(&["parcel", "state", "to", "handed over"], rows)
}
