//! Pages of rooms: the list, one room, and taking an entry back.

mod entry;
mod giving_up;
mod helping;
mod links;
mod people;
mod probes;
mod stock;
mod water;

use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::catalogue::Body;
use tarn_domain::streams::{AccountId, OpId, StreamId, Withdrawn};
use uuid::Uuid;

use super::views::{self, Beside, CaretakerLine, RoomList, TakenBack};
use super::{actions, store};
use crate::platform::csrf::Form;
use crate::platform::html::{Page, local_path, render, see_other};
use crate::platform::{Ctx, PageSession, Result};

/// Every page of the area.
pub fn pages(cfg: &mut web::ServiceConfig) {
    cfg.service(show_list).service(show_room).service(take_back).service(stock::show).service(stock::enter);
    cfg.service(entry::show).service(entry::blank);
    cfg.service(people::show).service(people::add_keeper).service(people::end_keeper);
    cfg.service(people::name_caretaker).service(people::end_caretaker).service(people::take_over);
    cfg.service(giving_up::show).service(giving_up::give_up).service(giving_up::records);
    cfg.service(links::show).service(links::add).service(links::end);
    cfg.service(probes::show).service(probes::add).service(probes::end);
    cfg.service(helping::show).service(helping::enter).service(water::show_all).service(water::show);
}

/// The part of the site that these pages are.
const HERE: &str = "/rooms";

fn new_id(ctx: &Ctx) -> OpId {
    OpId(ctx.ids.new_id(ctx.clock.now_ms()))
}

/// "Ines Marlow’s rooms".
fn whose(session: &PageSession) -> String {
    format!("{}\u{2019}s rooms", session.shown_name)
}

#[get("/rooms")]
async fn show_list(ctx: web::Data<Ctx>, session: PageSession) -> Result<HttpResponse> {
    let account = AccountId(session.who.account);
    let beside = *ctx.part::<Beside>();
    let mut rooms = Vec::new();
    for row in store::rooms_of(&ctx.db.conn, account).await? {
        let id = StreamId(row.stream);
        let keepers = store::keepers(&ctx.db.conn, id).await?;
        let others = keepers.into_iter().filter(|(id, until)| until.is_none() && *id != account);
        let others = store::people(&ctx.db.conn, others.map(|(id, _)| id)).await?;
        let mut others: Vec<String> = others.into_values().collect();
        others.sort_unstable();
        let (look, ()) = actions::read::look(&ctx, id, |_| ()).await?;
        rooms.push(views::room_lines(&look, beside, &others));
    }
    let lead = match rooms.len() {
        0 => "You keep no room here yet.".into(),
        1 => "You keep one room.".into(),
        n => format!("You keep {n} rooms."),
    };
    let mut caretaking = Vec::new();
    for (room, row) in store::caretaking(&ctx.db.conn, account).await? {
        if row.acting_ms.is_none() {
            let keepers = store::keeper_names(&ctx.db.conn, StreamId(room.stream)).await?.join(" and ");
            let keepers = format!("Kept by {keepers}.");
            caretaking.push(CaretakerLine { id: room.stream, name: room.name, keepers });
        }
    }
    let page = Page::of(&ctx, &session, "Rooms", HERE).at(whose(&session));
    render(&RoomList { page, lead, rooms, caretaking })
}

#[get("/rooms/{room}")]
async fn show_room(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    ask: web::Query<TakenBack>,
) -> Result<HttpResponse> {
    let (account, id) = (AccountId(session.who.account), StreamId(*path));
    let now = ctx.clock.now_ms();
    let read = |memory: &_| views::gather_room(memory, account, *ask, now);
    let (look, mut gathered) = actions::read::kept(&ctx, account, id, read).await?;
    gathered.traces.fetch(&ctx, id).await?;
    let writers = gathered.traces.writers(&ctx, id).await?;
    let page = Page::of(&ctx, &session, &look.room.name, HERE).at(whose(&session));
    let beside = *ctx.part::<Beside>();
    render(&views::room_page(page, &look, &gathered, &writers, beside, *ask, || new_id(&ctx)))
}

/// What "That was wrong" sends.
#[derive(Deserialize)]
struct TakeBack {
    /// The id of the withdrawal, made with the page.
    id: Uuid,
    /// The entry that was wrong.
    entry: Uuid,
    /// The page to come back to.
    back: String,
}

#[post("/rooms/{room}/taken-back")]
async fn take_back(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<TakeBack>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    let TakeBack { id, entry, back } = form.fields;
    let body = Body::Withdrawn(Withdrawn { entry: OpId(entry), why: None });
    actions::enter(&ctx, &session.who.actor(), account, room, OpId(id), None, body).await?;
    let home = format!("{HERE}/{room}");
    let back = local_path(&back).filter(|path| path.starts_with(&home) && !path.contains(['?', '#']));
    Ok(see_other(&format!("{}?taken={entry}", back.unwrap_or(&home))))
}
