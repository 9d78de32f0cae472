//! What a log is about.

use clap::Args;
use tarn_domain::streams::{StockId, TankId};

use crate::failure::Outcome;
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// A stock or a tank.
#[derive(Debug, Args)]
pub struct FishOf {
    /// With which stock
    #[arg(long, conflicts_with = "tank")]
    pub stock: Option<String>,
    /// In which tank
    #[arg(long)]
    pub tank: Option<String>,
}

impl FishOf {
    /// What was typed, found.
    pub fn find(&self, tarn: &Tarn, room: &StreamRow) -> Outcome<(Option<StockId>, Option<TankId>)> {
        Ok((
            self.stock.as_deref().map(|typed| tarn.stock(room, typed)).transpose()?.map(|(id, _)| id),
            self.tank.as_deref().map(|typed| tarn.tank(room, typed)).transpose()?,
        ))
    }
}
