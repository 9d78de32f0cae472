//! `tarn-server restore`: an archive into an empty database of either engine.
//!
//! Every stream goes on in a new epoch, so that clients notice and bring back what came after the backup.

use std::path::PathBuf;

use sea_orm::{ConnectionTrait, EntityTrait, PaginatorTrait};

use super::{Done, tables};
use crate::entities::{accounts, clubs, server_keys, streams};
use crate::platform::archive::{self, Opened, Shape};
use crate::platform::config::Settings;
use crate::platform::errors::{CONFLICT, INVALID};
use crate::platform::{Actor, Ctx, Problem, Result, Write, dialect, write};
use crate::streams::actions::begin_new_epochs;

/// Arguments of `restore`.
#[derive(clap::Args)]
pub struct Args {
    /// The file that `backup` wrote
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

/// Runs it. The server must not be running.
pub async fn run(settings: &Settings, args: &Args) -> Done {
    let opened = archive::open(&args.file)?;
    let ctx = Ctx::open(super::offline(settings)?).await.map_err(|err| err.to_string())?;
    let shapes = tables::all();
    let done = write(&ctx, &Actor::Operator, async |w| load(w, &opened, &shapes).await).await;
    let streams = done.map_err(|no| no.sentence().to_owned())?;
    eprintln!(
        "Restored what was there on {}. Streams, each in a new epoch: {streams}. Clients bring back what they wrote \
         since at their next sync; logins, invitations and roles given since are lost.",
        opened.manifest.made_at
    );
    Ok(())
}

async fn load(w: &mut Write, opened: &Opened, shapes: &[Shape]) -> Result<usize> {
    must_be_empty(w).await?;
    // Keys were made when the database was; those of the backup take their place.
    server_keys::Entity::delete_many().exec(w.tx()).await?;
    opened.load(w.tx(), shapes).await.map_err(|why| Problem::new(&INVALID).detail(why))?;
    dialect::count_on_from_greatest(w.tx(), "audit_facts", "id").await?;
    let fact = format!("restored from the backup of {}", opened.manifest.made_at);
    w.audit("platform", fact.clone());
    for club in clubs::Entity::find().all(w.tx()).await? {
        w.audit_of(club.id, "platform", format!("the server {fact}"));
    }
    begin_new_epochs(w).await
}

async fn must_be_empty(w: &Write) -> Result<()> {
    let conn = w.tx();
    let rows = accounts::Entity::find().count(conn).await?
        + clubs::Entity::find().count(conn).await?
        + streams::Entity::find().count(conn).await?;
    if rows == 0 {
        return Ok(());
    }
    let where_ =
        if conn.get_database_backend() == sea_orm::DbBackend::Sqlite { "data folder" } else { "database" };
    Err(Problem::new(&CONFLICT)
        .detail(format!("A backup is restored into an empty {where_}; this one holds something.")))
}
