//! `tarn list all`.

use clap::Args;
use serde_json::{Value, json};

use super::readable;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Shows the stock lists that you may read.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn list all\n  tarn list all --species \"Poecilia\"")]
pub struct All {
    /// Only lists with this species, or one that begins so
    #[arg(long)]
    species: Option<String>,
}

impl All {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut lists = readable(&mut session::open(tarn)?)?;
        if let Some(species) = &self.species {
            let lower = species.trim().to_lowercase();
            lists.retain(|list| names(list).iter().any(|name| name.to_lowercase().starts_with(&lower)));
        }
        if tarn.out.is_json() {
            return tarn.out.data(&json!({ "lists": lists }));
        }
        let rows = lists.iter().map(|list| {
            let text = |field: &str| list[field].as_str().unwrap_or_default().to_owned();
            vec![text("who"), names(list).join(", "), text("room")]
        });
        tarn.out.table(&["of", "species", "room"], rows.collect())
    }
}

fn names(list: &Value) -> Vec<String> {
    let stock = list["stock"].as_array().into_iter().flatten();
    let mut names: Vec<String> = stock.filter_map(|row| row["species"].as_str()).map(str::to_owned).collect();
    names.dedup();
    names
}
