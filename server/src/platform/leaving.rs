//! Somebody leaves this server, or wants to have what it keeps of them: the areas' parts in it.
//!
//! Only its shape; what is taken out, and what is handed over, comes from the areas, by way of `app.rs`.

use futures_util::future::LocalBoxFuture;
use serde_json::{Map, Value};
use uuid::Uuid;

use super::ctx::Ctx;
use super::errors::Result;
use super::write::Write;

/// Takes out what an area keeps of an account; or says what stands against it.
pub type LeaveFn = for<'a> fn(&'a mut Write, Uuid) -> LocalBoxFuture<'a, Result<()>>;

/// What an area keeps of an account, under the area's word.
pub type OwnDataFn = for<'a> fn(&'a Ctx, Uuid) -> LocalBoxFuture<'a, Result<Value>>;

/// The areas' parts; set once, in `app.rs`.
#[derive(Default)]
pub struct Leaving {
    /// In this order they take out what is theirs.
    pub leave: Vec<LeaveFn>,
    /// What each hands over.
    pub own_data: Vec<(&'static str, OwnDataFn)>,
}

/// Takes out what the areas keep of an account.
///
/// # Errors
/// What an area has against it; then nothing is taken out.
pub async fn leave(w: &mut Write, account: Uuid) -> Result<()> {
    let ctx = w.ctx().clone();
    for area in &ctx.part::<Leaving>().leave {
        area(w, account).await?;
    }
    Ok(())
}

/// Everything that is kept of an account, by area.
pub async fn own_data(ctx: &Ctx, account: Uuid) -> Result<Map<String, Value>> {
    let mut all = Map::new();
    for (area, read) in &ctx.part::<Leaving>().own_data {
        all.insert((*area).to_owned(), read(ctx, account).await?);
    }
    Ok(all)
}
