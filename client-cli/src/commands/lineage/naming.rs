//! What a brood is called, as it is typed.

use clap::Args;
use tarn_domain::lineage::BroodName;

use crate::commands::arguments::{YesNo, optional};
use crate::failure::Outcome;

/// What it is.
#[derive(Debug, Clone, Default, Args)]
pub struct NameTyped {
    /// The species as kept, with cf., aff. or sp. where it is not sure [default: the parents']
    #[arg(long, value_name = "NAME")]
    pub species: Option<String>,
    /// Colour or fin form [default: the parents', if they agree]
    #[arg(long)]
    pub form: Option<String>,
    /// The trade name
    #[arg(long, value_name = "NAME")]
    pub trade: Option<String>,
    /// The collection code
    #[arg(long, value_name = "CODE")]
    pub collection: Option<String>,
    /// The line: a population that is kept apart
    #[arg(long)]
    pub line: Option<String>,
    /// Who determined it
    #[arg(long, value_name = "WHO")]
    pub determined_by: Option<String>,
    /// Whether the determination is sure
    #[arg(long, value_name = "YES|NO")]
    pub sure: Option<YesNo>,
}

impl NameTyped {
    /// As ops hold it.
    pub fn read(self) -> Outcome<BroodName> {
        Ok(BroodName {
            species: optional(self.species)?,
            form: optional(self.form)?,
            trade: optional(self.trade)?,
            collection: optional(self.collection)?,
            line: optional(self.line)?,
            determined_by: optional(self.determined_by)?,
            sure: self.sure.map(bool::from),
        })
    }
}
