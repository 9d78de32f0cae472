//! `tarn stock describe`.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::StockDescribed;
use tarn_domain::streams::Patch;

use crate::commands::arguments::{When, YesNo, patch};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Says what a stock is called and how it is kept. An empty text clears a field.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn stock describe \"Blue\" --form \"blue grass\" --keeping colony\n  tarn stock describe \"Young reds\" --virgin yes"
)]
pub struct Describe {
    /// Which stock
    stock: String,
    /// What it is called
    #[arg(long)]
    name: Option<String>,
    /// The species as kept
    #[arg(long)]
    species: Option<String>,
    /// Colour or fin form
    #[arg(long)]
    form: Option<String>,
    /// How it is kept: individual, pair, trio, harem, colony, grow_out, eggs
    #[arg(long, value_name = "WORD")]
    keeping: Option<String>,
    /// A remark
    #[arg(long)]
    note: Option<String>,
    /// Whether its females had met no male before they came (parted young): yes, no
    #[arg(long, value_name = "YES|NO")]
    virgin: Option<YesNo>,
    #[command(flatten)]
    when: When,
}

impl Describe {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, _) = tarn.stock(&room, &self.stock)?;
        let keeping = match self.keeping.as_deref() {
            None => Patch::Keep,
            Some("") => Patch::Clear,
            Some(word) => Patch::Set(word.parse().map_err(Failure::wrong_use)?),
        };
        let body = StockDescribed {
            stock,
            name: patch(self.name)?,
            species: patch(self.species)?,
            form: patch(self.form)?,
            note: patch(self.note)?,
            keeping,
            virgin: Patch::of(self.virgin.map(bool::from)),
        };
        let untouched = body.name.is_keep() && body.species.is_keep() && body.form.is_keep();
        if untouched && body.virgin.is_keep() && body.note.is_keep() && body.keeping.is_keep() {
            return Err(Failure::wrong_use("nothing to change was named").hint("tarn stock describe --help"));
        }
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::StockDescribed(body))?;
        tarn.tell(recorded, "Changed.", &[("stock", json!(stock))])
    }
}
