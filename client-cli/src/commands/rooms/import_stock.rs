//! `tarn import-stock`: a keeper's own spreadsheet becomes stock. All of it or nothing.

use std::collections::HashMap;
use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::Node;
use tarn_domain::rooms::ops::{Founders, StockDescribed, StockEstablished, TankAdded};
use tarn_domain::rooms::words::{Origin, Related};
use tarn_domain::streams::{At, EntityKind, NodeId, Patch, StockId, TankId};

use super::sheet::{self, SheetRow};
use crate::clock;
use crate::commands::arguments::When;
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Takes in a list of stock: a CSV file with columns for tank, species, numbers and notes, as you have them. Tanks that are
/// not there are added. If anything is wrong, nothing is taken, and every wrong cell is named.
#[derive(Debug, Args)]
#[command(
    before_help = "Example:\n  tarn import-stock my-fish.csv",
    after_help = "Columns: tank; species or name; numbers (2.3.10, \"2 m 3 f\", about 40) or males, females, unsexed; and, if you \
    have them, form and notes. Headers are matched loosely."
)]
pub struct ImportStock {
    /// The CSV file
    file: PathBuf,
    #[command(flatten)]
    when: When,
}

impl ImportStock {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let shown = self.file.display();
        let bytes =
            std::fs::read(&self.file).map_err(|e| Failure::refused(format!("{shown} can't be read: {e}")))?;
        let text = String::from_utf8(bytes).map_err(|_| {
            Failure::refused(format!("{shown} is no UTF-8 text")).hint("Save it as CSV, UTF-8.")
        })?;
        let sheet = sheet::read(&text).map_err(|wrong| {
            for cell in wrong.iter().take(30) {
                tarn.out.say(&format!("{shown}: {cell}"));
            }
            Failure::refused(format!("{} cells are wrong, so nothing was imported", wrong.len()))
        })?;
        if !sheet.ignored.is_empty() {
            tarn.out.say(&format!("Not read: the columns {}.", sheet.ignored.join(", ")));
        }
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let known = tarn.store.named(&room, EntityKind::Tank)?;
        let mut tanks: HashMap<String, TankId> = known
            .into_iter()
            .filter_map(|tank| Some((tank.name?.to_lowercase(), TankId(tank.entity.id))))
            .collect();
        let (before, mut ops) = (tanks.len(), Vec::new());
        for row in &sheet.rows {
            let tank = *tanks.entry(row.tank.to_lowercase()).or_insert_with(|| {
                let tank = TankId(clock::new_id());
                ops.push((at, tank_added(tank, &row.tank)));
                tank
            });
            ops.extend(stock(row, tank, at));
        }
        let new_tanks = tanks.len() - before;
        tarn.record_all(&room, ops)?;
        if tarn.out.is_json() {
            return tarn.out.data(&json!({ "stocks": sheet.rows.len(), "tanks": new_tanks }));
        }
        tarn.out.say(&format!("Took in {} stocks; added {new_tanks} tanks.", sheet.rows.len()));
        Ok(())
    }
}

fn tank_added(tank: TankId, name: &str) -> Body {
    Body::TankAdded(TankAdded {
        tank,
        name: name.to_owned(),
        stand: None,
        shelf: None,
        place: None,
        volume_ml: None,
        displacement_ml: None,
    })
}

/// The ops that one line becomes.
fn stock(row: &SheetRow, tank: TankId, at: Option<At>) -> Vec<(Option<At>, Body)> {
    let (stock, node) = (StockId(clock::new_id()), NodeId(clock::new_id()));
    let established = StockEstablished {
        stock,
        name: row.name.clone().or_else(|| row.species.clone()),
        keeping: None,
        species: row.species.clone(),
        form: row.form.clone(),
        since: None,
        founders: Some(Founders {
            node,
            origin: Origin::Unknown,
            related: Related::NotKnown,
            locality: None,
            collected: None,
        }),
        rows: row.numbers.rows(Node::Of(node)),
        tank: Some(tank),
    };
    let mut ops = vec![(at, Body::StockEstablished(established))];
    if let Some(note) = &row.notes {
        let note = Patch::Set(note.clone());
        let described = StockDescribed {
            stock,
            name: Patch::Keep,
            keeping: Patch::Keep,
            species: Patch::Keep,
            form: Patch::Keep,
            note,
            virgin: Patch::Keep,
        };
        ops.push((at, Body::StockDescribed(described)));
    }
    ops
}
