//! `tarn brood rename`: it is something else than was thought, or is called otherwise.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::lineage::{BroodRenamed, NameEdit};
use tarn_domain::streams::{NodeId, Patch};

use super::which_brood::own;
use crate::commands::arguments::{When, YesNo, name, patch};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Says what a brood is, or is called, after all. Everybody who holds fish of it is told, with your reason.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn brood rename BG-12 --species \"Poecilia wingei\" --determined-by \"Rolf Ahne\" --sure yes \
    --why \"fin rays counted\"\n  tarn brood rename R-4 --line \"North pond\" --why \"kept apart from now on\"",
    after_help = "What is not named stays; an empty text clears it."
)]
pub struct Rename {
    /// Its code or id
    brood: String,
    /// Your code for it
    #[arg(long)]
    code: Option<String>,
    /// The species as kept, with cf., aff. or sp. where it is not sure
    #[arg(long, value_name = "NAME")]
    species: Option<String>,
    /// Colour or fin form
    #[arg(long)]
    form: Option<String>,
    /// The trade name
    #[arg(long, value_name = "NAME")]
    trade: Option<String>,
    /// The collection code
    #[arg(long, value_name = "CODE")]
    collection: Option<String>,
    /// The line: a population that is kept apart
    #[arg(long)]
    line: Option<String>,
    /// Who determined it
    #[arg(long, value_name = "WHO")]
    determined_by: Option<String>,
    /// Whether the determination is sure
    #[arg(long, value_name = "YES|NO")]
    sure: Option<YesNo>,
    /// Why: told to all who hold it
    #[arg(long)]
    why: String,
    #[command(flatten)]
    when: When,
}

impl Rename {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (entity, brood) = own(tarn, &room, &self.brood)?;
        let edit = NameEdit {
            code: patch(self.code)?,
            species: patch(self.species)?,
            form: patch(self.form)?,
            trade: patch(self.trade)?,
            collection: patch(self.collection)?,
            line: patch(self.line)?,
            determined_by: patch(self.determined_by)?,
            sure: Patch::of(self.sure.map(bool::from)),
        };
        if edit == NameEdit::default() {
            return Err(Failure::wrong_use("nothing to change was named").hint("tarn brood rename --help"));
        }
        if edit.code == Patch::Clear {
            return Err(Failure::wrong_use("a brood has a code").hint("--code CODE"));
        }
        let body = BroodRenamed { brood: NodeId(entity.id), name: edit, why: name(&self.why)? };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::BroodRenamed(body))?;
        let says = format!(
            "{} is renamed. Who holds fish of it is told when you sync.",
            brood.code.as_deref().unwrap_or("It")
        );
        tarn.tell(recorded, &says, &[("brood", json!(entity.id))])
    }
}
