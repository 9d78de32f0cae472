//! `tarn brood show`.

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::lineage::{BroodState, Draw, Parents};
use tarn_domain::state::EntityState;
use tarn_domain::streams::{EntityKind, NodeId};

use crate::commands::arguments::node_name;
use crate::failure::{Failure, Outcome};
use crate::find::find;
use crate::tarn::{Names, Tarn};

/// Shows one brood with its parents.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn brood show BG-12")]
pub struct Show {
    /// Its code or id
    brood: String,
}

/// A brood as a program reads it.
pub fn brood_json(id: NodeId, brood: &BroodState) -> Value {
    let mut value = serde_json::to_value(brood).unwrap_or(Value::Null);
    value["id"] = json!(id);
    value
}

/// One side of the parents in words.
pub fn parents_words(side: Option<&Parents>, names: &Names) -> String {
    let Some(side) = side else { return "not known".into() };
    let all: Vec<String> = side
        .of
        .iter()
        .map(|p| format!("{} of {} ({})", p.n, names.of(p.stock), node_name(names, p.node)))
        .collect();
    let draw = if side.draw == Draw::One { "one of: " } else { "" };
    format!("{draw}{}", all.join(", "))
}

impl Show {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let entity = find("brood", &self.brood, &tarn.store.named(&room, EntityKind::Brood)?, |_| false)?;
        let Some(EntityState::Brood(brood)) = tarn.store.state(&room, entity)? else {
            return Err(Failure::refused("the brood is not in this room"));
        };
        if tarn.out.is_json() {
            return tarn.out.data(&brood_json(NodeId(entity.id), &brood));
        }
        let zone = tarn.zone(&room);
        let names = tarn.names(&room, &[EntityKind::Stock, EntityKind::Brood])?;
        let mut rows = vec![
            vec!["brood".into(), brood.code.clone().unwrap_or_default()],
            vec!["id".into(), entity.id.to_string()],
            vec!["species".into(), brood.name.species.clone().unwrap_or_else(|| "not recorded".into())],
            vec!["fathers".into(), parents_words(brood.sires.as_ref(), &names)],
            vec!["mothers".into(), parents_words(brood.dams.as_ref(), &names)],
        ];
        if let Some(form) = &brood.name.form {
            rows.push(vec!["form".into(), form.clone()]);
        }
        if let Some(at) = brood.found {
            rows.push(vec!["found".into(), zone.show(at)]);
        }
        if let Some(window) = brood.window {
            let (from, to) = (zone.show_day(window.from), zone.show_day(window.to));
            rows.push(vec!["born".into(), format!("{from} to {to}")]);
        }
        if let Some(stock) = brood.stock {
            rows.push(vec!["stock".into(), names.of(stock)]);
        }
        tarn.out.table(&["", ""], rows)
    }
}
