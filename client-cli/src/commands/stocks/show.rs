//! `tarn stock show`.

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::rooms::{Came, StockState};
use tarn_domain::streams::{EntityKind, StockId};

use crate::commands::arguments::node_name;
use crate::failure::Outcome;
use crate::tarn::Tarn;
use crate::wording::sex_word;

/// Shows one stock: what it is, how many, where it was when.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn stock show \"Blue\"")]
pub struct Show {
    /// Which stock
    stock: String,
}

/// A stock as a program reads it.
pub fn stock_json(id: StockId, stock: &StockState) -> Value {
    let mut value = serde_json::to_value(stock).unwrap_or(Value::Null);
    value["id"] = json!(id);
    value["total"] = json!(stock.total());
    value["tank"] = json!(stock.place().flatten());
    value
}

impl Show {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (id, stock) = tarn.stock(&room, &self.stock)?;
        if tarn.out.is_json() {
            return tarn.out.data(&stock_json(id, &stock));
        }
        let zone = tarn.zone(&room);
        let names = tarn.names(&room, &[EntityKind::Tank, EntityKind::Stock, EntityKind::Brood])?;
        let about = if stock.about.is_empty() { "" } else { "about " };
        let mut rows = vec![vec!["stock".to_owned(), names.of(id)], vec!["id".into(), id.to_string()]];
        let mut add = |what: &str, text: Option<String>| {
            if let Some(text) = text {
                rows.push(vec![what.to_owned(), text]);
            }
        };
        add("numbers", Some(format!("{about}{}", stock.numbers.spread())));
        add("species", stock.species.clone());
        add("form", stock.form.clone());
        add("kept as", stock.keeping.map(|k| k.plain().to_owned()));
        add("note", stock.note.clone());
        add("came", stock.came.as_ref().map(|came| came_words(came, &names)));
        add("since", stock.since.map(|at| zone.show(at)));
        for ((node, sex), n) in stock.numbers.rows() {
            add("", Some(format!("{n} {} of {}", sex_word(sex), node_name(&names, node))));
        }
        for stay in &stock.stays {
            let until = stay.until.map_or("now".to_owned(), |at| zone.show(at));
            let doubt = if stay.doubtful { " (doubtful)" } else { "" };
            add(
                "was",
                Some(format!("{}, {} to {until}{doubt}", names.place(stay.tank), zone.show(stay.from))),
            );
        }
        for finding in &stock.findings {
            let (says, then) = finding.kind.plain();
            add("to put right", Some(format!("{says} {then}")));
        }
        tarn.out.table(&["", ""], rows)
    }
}

fn came_words(came: &Came, names: &crate::tarn::Names) -> String {
    match came {
        Came::Established => "was here before the records".into(),
        Came::In { from } => format!("from {}", from.plain()),
        Came::Split { of } => format!("split off {}", names.of(*of)),
        Came::Born { brood } => format!("found as young: {}", names.of(*brood)),
        Came::Parcel { parcel } => format!("by parcel {}", crate::find::short(parcel.0)),
    }
}
