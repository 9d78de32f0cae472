//! The waters of a room over JSON.

use actix_web::{get, web};
use tarn_domain::rooms::water::meaning::{Meaning, newest, of_ammonia};
use tarn_domain::rooms::water::volumes::told_json;
use tarn_domain::rooms::words::Measure;
use tarn_domain::state::RoomStates;
use tarn_domain::streams::{AccountId, StreamId};
use uuid::Uuid;

use super::waters::{NewestValue, Water, Waters};
use crate::platform::auth::SignedIn;
use crate::platform::{Ctx, Result};
use crate::rooms::actions::read::{Traces, kept};
use crate::rooms::actions::water::{OF_ALL, Readings, Which, logs, readings, values};

/// The waters of a room.
#[utoipa::path(
    tag = "rooms", operation_id = "read_waters", summary = "The waters of a room",
    description = "Systems, and tanks on their own water: gross and net volume with how each is known or what is missing, the newest value of each measure as it is kept and as it was typed, and the un-ionised part of the newest ammonia where the formula holds (Emerson et al. 1975; fresh water, 0 to 30 °C, pH 6 to 10). No value is a promise of safety. For the room's keepers.",
    params(("room" = Uuid, Path, description = "The room")),
    responses((status = 200, description = "The waters", body = Waters, example = json!({
        "room": "0190a1b2-0000-7000-8000-000000000001", "head": 41, "waters": [{
            "system": "0190a1b2-0000-7000-8000-000000000002", "name": "Loop A",
            "gross": {"ml": 560000, "how": "reckoned", "parts": [
                {"part": "tanks", "ml": 460000}, {"part": "sump", "ml": 90000}, {"part": "pipes", "ml": 10000}]},
            "net": {"ml": 480000, "how": "measured"},
            "newest": [{"at": "2026-05-06T18:00:00Z", "value":
                {"what": "temperature", "typed": "75.2", "unit": "F", "milli": 24000}}],
            "ammonia": null}]}))),
    security(("bearer" = []))
)]
#[get("/rooms/{room}/water")]
pub async fn waters(who: SignedIn, ctx: web::Data<Ctx>, path: web::Path<Uuid>) -> Result<web::Json<Waters>> {
    let (account, room) = (AccountId(who.account), StreamId(*path));
    let mut traces = Traces::default();
    let (look, all) = kept(&ctx, account, room, |memory| {
        let states = tarn_domain::state::view(memory.states());
        let all = Which::all(&states).into_iter();
        all.map(|which| (which, logs(memory, &states, which, OF_ALL, &mut traces))).collect::<Vec<_>>()
    })
    .await?;
    traces.fetch(&ctx, room).await?;
    let states = look.states();
    let told =
        all.iter().map(|(which, logs)| told(&states, *which, &readings(&states, *which, &traces, logs)));
    Ok(web::Json(Waters { room, head: look.head, waters: told.collect() }))
}

fn told(states: &RoomStates<'_>, which: Which, readings: &[Readings]) -> Water {
    let (system, tank, name) = match which {
        Which::System(id) => (Some(which.id()), None, states.systems.get(&id).and_then(|s| s.name.clone())),
        Which::Tank(id) => (None, Some(which.id()), states.tanks.get(&id).and_then(|t| t.name.clone())),
    };
    let all = values(readings);
    let of_each = Measure::ALL.iter().filter_map(|what| {
        let at = newest(&all, *what)?.at;
        let of = readings.iter().filter(|r| r.at == at).flat_map(|r| &r.read.values);
        let value = of.into_iter().find(|v| v.what == *what)?;
        Some(NewestValue { at, value: value.clone() })
    });
    let ammonia = newest(&all, Measure::Ammonia).map(|total| of_ammonia(*total, &all));
    let (gross, net) = which.volumes(states).map(|v| (told_json(&v.gross), told_json(&v.net))).unzip();
    Water {
        system,
        tank,
        name,
        newest: of_each.collect(),
        ammonia: ammonia.as_ref().map(Meaning::json),
        gross,
        net,
    }
}
