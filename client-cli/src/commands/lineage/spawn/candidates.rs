//! `tarn spawn candidates`: who may be the parents.

use std::collections::BTreeSet;

use clap::Args;
use serde_json::json;
use tarn_domain::lineage::{Candidate, Search, Window, candidates};
use tarn_domain::state::view;
use tarn_domain::streams::{Days, EntityKind};

use crate::commands::arguments::node_name;
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Tells who may be the parents of eggs or young that were found in a tank: all that were there, and males whose sperm
/// a female may have kept.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn spawn candidates A7 --from yesterday\n  \
    tarn spawn candidates B2 --from \"3 days ago\" --sperm-days 180 --virgin \"Young reds\"")]
pub struct Candidates {
    /// The tank
    tank: String,
    /// Laid or born not before
    #[arg(long, value_name = "TIME")]
    from: String,
    /// Laid or born not after [default: now]
    #[arg(long, value_name = "TIME")]
    to: Option<String>,
    /// For how many days females of the species keep sperm; many livebearers do for months
    #[arg(long, value_name = "DAYS", default_value_t = 0)]
    sperm_days: u16,
    /// A stock whose females had met no male before they came; may be repeated
    #[arg(long, value_name = "STOCK")]
    virgin: Vec<String>,
}

impl Candidates {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let tank = tarn.tank(&room, &self.tank)?;
        let now = tarn.now()?;
        let window = Window {
            from: tarn.at(&room, Some(&self.from))?.unwrap_or(now),
            to: tarn.at(&room, self.to.as_deref())?.unwrap_or(now),
        };
        if window.from > window.to {
            return Err(Failure::wrong_use("--from is after --to"));
        }
        let mut virgin = BTreeSet::new();
        for typed in &self.virgin {
            virgin.insert(tarn.stock(&room, typed)?.0);
        }
        let states = tarn.store.states(&room, &[EntityKind::Stock])?;
        let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
        let found = candidates(&Search {
            stocks: &laid_out.stocks,
            tank,
            window,
            sperm: Days(self.sperm_days),
            virgin: &virgin,
        });
        if tarn.out.is_json() {
            let side = |all: &[Candidate]| -> Vec<_> {
                let one = |c: &Candidate| json!({"stock": c.stock, "node": c.node, "n": c.n, "last_together": c.last_together});
                all.iter().map(one).collect()
            };
            let mated: Vec<_> =
                found.mated.iter().map(|m| json!({"stock": m.stock, "came": m.came})).collect();
            return tarn.out.data(&json!({
                "sires": side(&found.sires), "dams": side(&found.dams), "came_in_mated_perhaps": mated,
            }));
        }
        let names = tarn.names(&room, &[EntityKind::Stock, EntityKind::Brood])?;
        let zone = tarn.zone(&room);
        let row = |word: &str, c: &Candidate| {
            let why = c.last_together.map_or_else(
                || "there".to_owned(),
                |last| format!("kept sperm: together until {}", zone.show_day(last)),
            );
            vec![word.to_owned(), c.n.to_string(), names.of(c.stock), node_name(&names, c.node), why]
        };
        let mut rows: Vec<_> = found.sires.iter().map(|c| row("male", c)).collect();
        rows.extend(found.dams.iter().map(|c| row("female", c)));
        rows.extend(found.mated.iter().map(|m| {
            let why = format!("a male nobody here knows: the female came {}", zone.show_day(m.came));
            vec![
                "male".into(),
                "?".into(),
                String::new(),
                "founders".into(),
                format!("{why} ({})", names.of(m.stock)),
            ]
        }));
        tarn.out.table(&["sex", "n", "stock", "lineage", "why"], rows)
    }
}
