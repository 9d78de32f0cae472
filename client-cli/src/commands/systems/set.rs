//! `tarn system set`: makes a system or changes what is known of it.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::SystemSet;
use tarn_domain::streams::{EntityKind, Patch, SystemId};

use crate::clock;
use crate::commands::arguments::{When, name, patch_volume};
use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Makes a water system, or changes what is known of one.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn system set \"Left rack\" --net 780l                measured\n  \
    tarn system set \"Left rack\" --sump 120l --pipes 8l --displacement 60l\n  \
    tarn system set \"Left rack\" --rename \"Rack 1\"")]
pub struct Set {
    /// What it is called
    name: String,
    /// Another name for it
    #[arg(long, value_name = "NAME")]
    rename: Option<String>,
    /// All its water when filled; empty clears it
    #[arg(long, value_name = "VOLUME")]
    gross: Option<String>,
    /// Its water less sand, stones and wood
    #[arg(long, value_name = "VOLUME")]
    net: Option<String>,
    /// The sump's share
    #[arg(long, value_name = "VOLUME")]
    sump: Option<String>,
    /// What pipes, filters and other vessels hold
    #[arg(long, value_name = "VOLUME")]
    pipes: Option<String>,
    /// What sand, stones, wood and gear take up in all of it; 0l if it is bare
    #[arg(long, value_name = "VOLUME")]
    displacement: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Set {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let called = name(&self.name)?;
        let all = tarn.store.named(&room, EntityKind::System)?;
        let known =
            all.iter().find(|s| s.name.as_ref().is_some_and(|n| n.to_lowercase() == called.to_lowercase()));
        let system = known.map_or_else(|| SystemId(clock::new_id()), |thing| SystemId(thing.entity.id));
        let new_name = match (&self.rename, known) {
            (Some(rename), _) => Patch::Set(name(rename)?),
            (None, None) => Patch::Set(called.clone()),
            (None, Some(_)) => Patch::Keep,
        };
        let body = SystemSet {
            system,
            name: new_name,
            gross_ml: patch_volume(self.gross)?,
            net_ml: patch_volume(self.net)?,
            sump_ml: patch_volume(self.sump)?,
            pipes_ml: patch_volume(self.pipes)?,
            displacement_ml: patch_volume(self.displacement)?,
        };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let says = if known.is_some() { "Changed" } else { "Made" };
        let recorded = tarn.record(&room, at, Body::SystemSet(body))?;
        tarn.tell(recorded, &format!("{says} the water system {called}."), &[("system", json!(system))])
    }
}
