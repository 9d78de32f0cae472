//! What a log is about.

use clap::Args;
use tarn_domain::streams::{StockId, SystemId, TankId};

use crate::failure::Outcome;
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// A tank or a water system.
#[derive(Debug, Args)]
pub struct WaterOf {
    /// In which tank
    #[arg(long, conflicts_with = "system")]
    pub tank: Option<String>,
    /// In which water system
    #[arg(long)]
    pub system: Option<String>,
}

impl WaterOf {
    /// What was typed, found.
    pub fn find(&self, tarn: &Tarn, room: &StreamRow) -> Outcome<(Option<SystemId>, Option<TankId>)> {
        Ok((
            self.system.as_deref().map(|typed| tarn.system(room, typed)).transpose()?,
            self.tank.as_deref().map(|typed| tarn.tank(room, typed)).transpose()?,
        ))
    }
}

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
