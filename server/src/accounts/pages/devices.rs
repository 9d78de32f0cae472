//! Ending a device, which the page of the account lists.

use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use tarn_domain::streams::{DeviceId, StreamId};
use uuid::Uuid;

use crate::accounts::actions;
use crate::platform::csrf::Form;
use crate::platform::html::see_other;
use crate::platform::{Ctx, PageSession, Result};

#[derive(Deserialize)]
struct Which {
    stream: Uuid,
    device: Uuid,
}

#[post("/account/devices/end")]
async fn end_device(ctx: web::Data<Ctx>, session: PageSession, form: Form<Which>) -> Result<HttpResponse> {
    let (stream, device) = (StreamId(form.fields.stream), DeviceId(form.fields.device));
    actions::end_device(&ctx, &session.who, stream, device).await?;
    Ok(see_other("/account?ended=device#devices"))
}

/// Its route.
pub fn devices(cfg: &mut web::ServiceConfig) {
    cfg.service(end_device);
}
