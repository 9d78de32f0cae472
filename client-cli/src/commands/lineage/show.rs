//! `tarn brood show`.

use clap::Args;
use serde_json::{Value, json};
use std::collections::BTreeMap;

use tarn_domain::lineage::{Ancestor, BroodState, Draw, Kin, Parents, Telling, ancestry};
use tarn_domain::state::EntityState;
use tarn_domain::streams::{EntityKind, NodeId};

use super::known::{known, side};
use crate::commands::arguments::node_name;
use crate::failure::{Failure, Outcome};
use crate::find::find;
use crate::store::Named;
use crate::tarn::{Names, Tarn};

/// Shows one brood with its parents: one of this room, or one that fish here are of.
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
        let own = tarn.store.named(&room, EntityKind::Brood)?;
        let all = known(tarn, &room)?;
        let id = match held(&all, &own, &self.brood) {
            Some(node) => node,
            None => NodeId(find("brood", &self.brood, &own, |_| false)?.id),
        };
        let state = match tarn.store.state(&room, id.into())? {
            Some(EntityState::Brood(brood)) => Some(*brood),
            _ => None,
        };
        let Some(Kin::Brood(copy)) = all.get(&id).map(|ancestor| &ancestor.is) else {
            return Err(Failure::refused("the brood is not in this room"));
        };
        if tarn.out.is_json() {
            let mut value = state.as_ref().map_or_else(|| json!({"id": id}), |brood| brood_json(id, brood));
            value["ancestry"] = json!(ancestry([id], |node| all.get(&node).cloned()));
            value["cross"] = json!(copy.cross);
            return tarn.out.data(&value);
        }
        let zone = tarn.zone(&room);
        let names = tarn.names(&room, &[EntityKind::Stock, EntityKind::Brood])?;
        let own = state.as_ref().filter(|brood| brood.made.is_some());
        let [sires, dams] = match own {
            Some(own) => {
                [parents_words(own.sires.as_ref(), &names), parents_words(own.dams.as_ref(), &names)]
            }
            None => [side(&all, copy.sires.as_ref()), side(&all, copy.dams.as_ref())],
        };
        let mut rows = vec![
            vec!["brood".into(), copy.code.clone().unwrap_or_default()],
            vec!["id".into(), id.to_string()],
            vec!["species".into(), copy.species.clone().unwrap_or_else(|| "not recorded".into())],
            vec!["fathers".into(), sires],
            vec!["mothers".into(), dams],
        ];
        let mut row =
            |name: &str, value: Option<String>| rows.extend(value.map(|v| vec![name.to_owned(), v]));
        row("form", copy.form.clone());
        row("trade name", copy.trade.clone());
        row("collection", copy.collection.clone());
        row("line", copy.line.clone());
        row("cross", copy.cross.then(|| "yes: parents of different species, places or lines".into()));
        let determined = own.and_then(|own| own.name.determined_by.clone());
        row("determined", determined.map(|who| format!("by {who}")));
        row("sure", copy.sure.map(|sure| if sure { "yes" } else { "no" }.into()));
        row("found", own.and_then(|own| own.found).map(|at| zone.show(at)));
        row("of", copy.month.clone().filter(|_| own.is_none()));
        let window = own.and_then(|own| own.window);
        row("born", window.map(|w| format!("{} to {}", zone.show_day(w.from), zone.show_day(w.to))));
        row("stock", own.and_then(|own| own.stock).map(|stock| names.of(stock)));
        for change in state.iter().flat_map(|brood| &brood.changes) {
            let what = match change.what {
                Telling::Corrected => "corrected",
                Telling::Renamed => "renamed",
                Telling::Disputed => "disputed",
            };
            let why = change.why.as_ref().map_or_else(String::new, |why| format!(": {why}"));
            row(what, Some(format!("{}{why}", zone.show(change.at))));
        }
        tarn.out.table(&["", ""], rows)
    }
}

/// A brood whose home is elsewhere, by its whole code or id, unless one of this room is called so.
fn held(all: &BTreeMap<NodeId, Ancestor>, own: &[Named], typed: &str) -> Option<NodeId> {
    let is_own = |node: NodeId| own.iter().any(|named| named.entity.id == node.0);
    let meant = |(node, copy): &(&NodeId, &Ancestor)| {
        copy.code().is_some_and(|code| code.eq_ignore_ascii_case(typed)) || node.to_string() == typed
    };
    let mut found =
        all.iter().filter(|(_, copy)| copy.brood().is_some()).filter(meant).map(|(node, _)| *node);
    let first = found.next()?;
    (found.next().is_none() && !is_own(first)).then_some(first)
}
