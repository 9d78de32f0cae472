//! `tarn line group list`.

use clap::Args;
use serde_json::json;

use super::{groups, names, text};
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Shows the line groups you are in, and those you are asked into.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn line group list")]
pub struct List {}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let groups = groups(&mut session::open(tarn)?)?;
        if tarn.out.is_json() {
            return tarn.out.data(&json!({ "groups": groups }));
        }
        let rows = groups.iter().map(|group| {
            let you = match group["invited_by"].as_str() {
                Some(by) if group["state"] == "invited" => format!("asked by {by}"),
                _ => text(group, "state"),
            };
            vec![
                text(group, "species"),
                text(group, "line"),
                you,
                names(&group["members"]),
                text(group, "id"),
            ]
        });
        tarn.out.table(&["species", "line", "you", "members", "id"], rows.collect())
    }
}
