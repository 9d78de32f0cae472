//! `tarn findings`: what the records contradict themselves in.

use clap::Args;
use serde_json::json;
use tarn_domain::state::across;
use tarn_domain::streams::EntityKind;

use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Lists what is to put right.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn findings")]
pub struct Findings {}

impl Findings {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let names = tarn.names(&room, &EntityKind::ALL)?;
        let (mut rows, mut all) = (Vec::new(), Vec::new());
        let mut found = Vec::new();
        for (entity, state) in tarn.store.states(&room, &[])? {
            found.extend(state.findings().into_iter().map(|finding| (entity, finding)));
        }
        if !tarn.store.named(&room, EntityKind::Brood)?.is_empty() {
            found.extend(across(&tarn.store.memory(&room)?));
        }
        for (entity, finding) in found {
            let (says, then) = finding.kind.plain();
            all.push(json!({
                "kind": finding.kind, "op": finding.op, "about": entity.kind, "id": entity.id,
                "name": names.of(entity), "says": says, "then": then,
            }));
            let op = crate::find::short(finding.op.0);
            rows.push(vec![
                format!("{} {}", entity.kind.word(), names.of(entity)),
                says.into(),
                then.into(),
                op,
            ]);
        }
        if tarn.out.is_json() {
            return tarn.out.data(&json!(all));
        }
        if rows.is_empty() {
            tarn.out.say("Nothing to put right.");
            return Ok(());
        }
        tarn.out.table(&["about", "to put right", "how", "entry"], rows)
    }
}
