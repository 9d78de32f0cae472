//! The one file that names every area: what is mounted where, who handles which job, which problems exist.
//!
//! No rules and no queries. `main` and the tests build the same [`Application`].

use std::net::SocketAddr;
use std::sync::Arc;

use actix_web::body::MessageBody;
use actix_web::dev::{Server, ServerHandle, ServiceFactory, ServiceRequest, ServiceResponse};
use actix_web::http::Method;
use actix_web::middleware::{Compress, from_fn};
use actix_web::{App, HttpServer, web};
use futures_util::future::LocalBoxFuture;
use tarn_domain::streams::AccountId;
use tokio::sync::watch;
use utoipa::openapi::OpenApi;
use utoipa_actix_web::{AppExt, scope};
use utoipa_swagger_ui::SwaggerUi;
use uuid::Uuid;

use crate::platform::ahead::Ahead;
use crate::platform::audit;
use crate::platform::health::Backlog;
use crate::platform::jobs::{self, Handler, Handlers, Rounds};
use crate::platform::leaving::Leaving;
use crate::platform::menu::{Menu, MenuEntry};
use crate::platform::metrics::{self, Readings};
use crate::platform::web::Addresses;
use crate::platform::{self, Ctx, Kind, Result, config::Config, errors, mail, messages, problems::Registry};
use crate::streams::Areas;
use crate::{accounts, clubs, lineage, parcels, quarantine, rooms, streams};

/// A server that is ready to run.
pub struct Application {
    /// What its actions use.
    pub ctx: Ctx,
    server: Server,
    address: SocketAddr,
    metrics: Option<(Server, SocketAddr)>,
}

impl Application {
    /// Opens the database and the port.
    pub async fn build(config: Config) -> Result<Self> {
        let ctx = Ctx::open(config).await?;
        prepare(&ctx);
        let shared = Shared::new(ctx.clone());
        let http = HttpServer::new(move || web_app(shared.clone()))
            .workers(2)
            // an answer in several pieces would wait 40 ms for the reader's word that it got the first
            .tcp_nodelay(true)
            .shutdown_timeout(10)
            .disable_signals()
            .bind(ctx.config.listen)
            .map_err(|err| errors::Problem::failed("listening", err))?;
        let address = http.addrs().first().copied().unwrap_or(ctx.config.listen);
        let metrics = metrics::listen(&ctx)?;
        Ok(Self { ctx, server: http.run(), address, metrics })
    }

    /// Where it listens.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Where its metrics are read, if anywhere.
    pub fn metrics_address(&self) -> Option<SocketAddr> {
        self.metrics.as_ref().map(|(_, address)| *address)
    }

    /// To stop it from elsewhere.
    pub fn handle(&self) -> ServerHandle {
        self.server.handle()
    }

    /// Serves, and does queued work, until it is stopped.
    pub async fn run(self) -> std::io::Result<()> {
        let (stop, stopped) = watch::channel(false);
        let queue = actix_web::rt::spawn(jobs::run(self.ctx.clone(), stopped.clone()));
        let rebuilt = actix_web::rt::spawn(streams::actions::rebuild::run(self.ctx.clone(), stopped.clone()));
        let post = actix_web::rt::spawn(mail::run(self.ctx.clone(), stopped.clone()));
        let news = actix_web::rt::spawn(streams::actions::live::run(self.ctx.clone(), stopped));
        let watched = self.metrics.map(|(server, _)| (server.handle(), actix_web::rt::spawn(server)));
        let served = self.server.await;
        stop.send_replace(true);
        if let Some((handle, watched)) = watched {
            handle.stop(true).await;
            if let Ok(Err(err)) = watched.await {
                tracing::error!(%err, "the metrics ended badly");
            }
        }
        for task in [queue, post, news, rebuilt] {
            if let Err(err) = task.await {
                tracing::error!(%err, "the queue, the post, the news or the rebuilding ended badly");
            }
        }
        served
    }
}

/// Registers what the areas do for one another.
pub fn prepare(ctx: &Ctx) {
    ctx.jobs.register(handlers(), rounds());
    ctx.set_part(areas());
    ctx.set_part(beside());
    ctx.set_part(Menu(menu));
    ctx.set_part(ahead());
    ctx.set_part(leaving());
    ctx.set_part(messages::ReadsAlong(Some(accounts::actions::reads_along)));
    ctx.set_part(Readings(vec![streams::readings]));
    ctx.set_part(Backlog(vec![streams::to_rebuild]));
}

/// Every kind of problem, each area's own.
pub fn kinds() -> Vec<&'static Kind> {
    [
        errors::KINDS,
        streams::refusals::KINDS,
        accounts::refusals::KINDS,
        clubs::refusals::KINDS,
        rooms::refusals::KINDS,
        quarantine::refusals::KINDS,
        lineage::refusals::KINDS,
        parcels::refusals::KINDS,
    ]
    .concat()
}

/// Who does which queued work.
fn handlers() -> Handlers {
    let each: [(&'static str, Handler); 19] = [
        (audit::ROUND, Arc::new(|w, payload| Box::pin(audit::round(w, payload)))),
        (accounts::jobs::ROUND, Arc::new(|w, payload| Box::pin(accounts::jobs::round(w, payload)))),
        (accounts::jobs::RETENTION, Arc::new(|w, payload| Box::pin(accounts::jobs::retention(w, payload)))),
        (accounts::jobs::DIGEST, Arc::new(|w, payload| Box::pin(accounts::jobs::digest(w, payload)))),
        (
            accounts::jobs::RESET_ASKED,
            Arc::new(|w, payload| Box::pin(accounts::jobs::reset_asked(w, payload))),
        ),
        (
            accounts::jobs::SIGN_UP_ASKED,
            Arc::new(|w, payload| Box::pin(accounts::jobs::sign_up_asked(w, payload))),
        ),
        (accounts::jobs::OF_AGE, Arc::new(|w, payload| Box::pin(clubs::jobs::of_age(w, payload)))),
        (rooms::jobs::PROBES, Arc::new(|w, payload| Box::pin(rooms::jobs::round(w, payload)))),
        (rooms::jobs::PROBE_HOURS, Arc::new(|w, payload| Box::pin(rooms::jobs::probe_hours(w, payload)))),
        (
            quarantine::jobs::RULE_ADOPTED,
            Arc::new(|w, payload| Box::pin(quarantine::jobs::rule_adopted(w, payload))),
        ),
        (quarantine::jobs::ROUND, Arc::new(|w, payload| Box::pin(quarantine::jobs::round(w, payload)))),
        (quarantine::jobs::TELL, Arc::new(|w, payload| Box::pin(quarantine::jobs::tell(w, payload)))),
        (lineage::jobs::TELL, Arc::new(|w, payload| Box::pin(lineage::jobs::tell(w, payload)))),
        (lineage::jobs::TELL_ONE, Arc::new(|w, payload| Box::pin(lineage::jobs::tell_one(w, payload)))),
        (parcels::jobs::ROUND, Arc::new(|w, payload| Box::pin(parcels::jobs::round(w, payload)))),
        (parcels::jobs::MATCH, Arc::new(|w, payload| Box::pin(parcels::jobs::matched(w, payload)))),
        (parcels::jobs::FRESHEN, Arc::new(|w, payload| Box::pin(parcels::jobs::freshen(w, payload)))),
        (parcels::jobs::BOARD_ROUND, Arc::new(|w, payload| Box::pin(parcels::jobs::board(w, payload)))),
        (quarantine::actions::RECALLED, Arc::new(|w, payload| Box::pin(parcels::jobs::recalled(w, payload)))),
    ];
    each.into_iter().collect()
}

/// Which of it comes again and again.
fn rounds() -> Rounds {
    Rounds::from([
        (audit::ROUND, audit::ROUND_MS),
        (accounts::jobs::ROUND, accounts::jobs::ROUND_MS),
        (accounts::jobs::RETENTION, accounts::jobs::RETENTION_MS),
        (rooms::jobs::PROBES, rooms::jobs::PROBES_MS),
        (quarantine::jobs::ROUND, quarantine::jobs::ROUND_MS),
        (parcels::jobs::ROUND, parcels::jobs::ROUND_MS),
        (parcels::jobs::BOARD_ROUND, parcels::jobs::BOARD_ROUND_MS),
    ])
}

/// What lies ahead of somebody, by area.
fn ahead() -> Ahead {
    Ahead(vec![
        |ctx, account| Box::pin(quarantine::actions::ahead(ctx, AccountId(account))),
        |ctx, account| Box::pin(parcels::actions::ahead(ctx, AccountId(account))),
    ])
}

/// What happens when somebody leaves, and what is handed over before. Fish first: while some are on their way nothing
/// else is undone.
fn leaving() -> Leaving {
    Leaving {
        leave: vec![
            rooms::actions::leave,
            lineage::leave,
            parcels::actions::leave,
            clubs::actions::leave_server,
        ],
        own_data: vec![
            ("clubs", clubs::actions::own_data),
            ("rooms", rooms::actions::own_data),
            ("lineage", lineage::own_data),
            ("parcels", parcels::actions::own_data),
        ],
    }
}

/// What the areas register with streams, in ladder order.
fn areas() -> Areas {
    let mut areas = Areas::default();
    rooms::register(&mut areas);
    quarantine::register(&mut areas);
    lineage::register(&mut areas);
    parcels::register(&mut areas);
    areas
}

/// What areas above rooms tell on the rooms' pages.
fn beside() -> rooms::views::Beside {
    rooms::views::Beside {
        units: quarantine::views::for_room,
        held: quarantine::views::held,
        lineage: lineage::views::in_words,
        node: lineage::views::node,
        spawnings: lineage::views::under_way,
    }
}

/// The menu of somebody who is signed in; it begins with the page that is their first.
fn menu(ctx: &Ctx, account: Uuid) -> LocalBoxFuture<'_, Result<Vec<MenuEntry>>> {
    let id = AccountId(account);
    Box::pin(async move {
        let mut entries = rooms::menu(ctx, id).await?;
        entries.extend(quarantine::menu(ctx, id).await?);
        if entries.is_empty() {
            entries.push(MenuEntry::to("/rooms", "Rooms"));
        }
        entries.extend(parcels::menu(ctx, id).await?);
        entries.push(lineage::menu());
        entries.push(MenuEntry::to("/clubs", "Clubs"));
        let told = match messages::unread(&ctx.db.conn, account).await? {
            0 => "Messages".to_owned(),
            new => format!("Messages, {new}\u{a0}new"),
        };
        entries.push(MenuEntry::to("/messages", &told));
        entries.push(MenuEntry::to("/account", "Account"));
        Ok(entries)
    })
}

/// Every JSON route.
fn api(cfg: &mut utoipa_actix_web::service_config::ServiceConfig) {
    cfg.configure(accounts::routes).configure(clubs::routes).configure(streams::routes);
    cfg.configure(rooms::routes).configure(quarantine::routes).configure(lineage::routes);
    cfg.configure(parcels::routes);
}

/// Every page.
fn pages(cfg: &mut web::ServiceConfig) {
    cfg.configure(platform::assets::pages).configure(platform::problems::pages);
    cfg.configure(accounts::pages).configure(clubs::pages);
    cfg.configure(rooms::pages)
        .configure(quarantine::pages)
        .configure(lineage::pages)
        .configure(parcels::pages);
}

/// The API document.
pub fn document() -> OpenApi {
    let (_, mut document) = App::new()
        .into_utoipa_app()
        .openapi(platform::openapi::head())
        .configure(platform::health::routes)
        .configure(accounts::well_known)
        .service(scope::scope("/api/v1").configure(api))
        .split_for_parts();
    platform::openapi::finish(&mut document, &kinds());
    document
}

/// What one worker serves.
fn web_app(
    shared: Shared,
) -> App<
    impl ServiceFactory<
        ServiceRequest,
        Config = (),
        Response = ServiceResponse<impl MessageBody>,
        Error = actix_web::Error,
        InitError = (),
    >,
> {
    let docs = SwaggerUi::new("/docs/{_:.*}").url("/openapi.json", (*shared.document).clone());
    App::new()
        .into_utoipa_app()
        .configure(platform::health::routes)
        .configure(accounts::well_known)
        .service(scope::scope("/api/v1").configure(api))
        .into_app()
        .app_data(shared.ctx.clone())
        .app_data(shared.kinds.clone())
        .app_data(shared.addresses.clone())
        .configure(platform::web::readers)
        .configure(pages)
        .service(web::redirect("/docs", "/docs/"))
        .service(docs)
        .default_service(web::to(platform::web::nothing_here))
        // The last one named sees a request first.
        .wrap(from_fn(platform::web::readable_refusals))
        .wrap(from_fn(platform::web::safe_headers))
        .wrap(Compress::default())
        .wrap(from_fn(platform::telemetry::log_requests))
        .wrap(from_fn(metrics::count_requests))
}

/// What all workers share.
#[derive(Clone)]
struct Shared {
    ctx: web::Data<Ctx>,
    kinds: web::Data<Registry>,
    addresses: web::Data<Addresses>,
    document: Arc<OpenApi>,
}

impl Shared {
    fn new(ctx: Ctx) -> Self {
        let document = document();
        Self {
            ctx: web::Data::new(ctx),
            kinds: web::Data::new(Registry(kinds())),
            addresses: web::Data::new(addresses(&document)),
            document: Arc::new(document),
        }
    }
}

fn addresses(document: &OpenApi) -> Addresses {
    let all = document.paths.paths.iter().map(|(path, item)| {
        let methods = [
            (Method::GET, item.get.is_some()),
            (Method::PUT, item.put.is_some()),
            (Method::POST, item.post.is_some()),
            (Method::DELETE, item.delete.is_some()),
        ];
        (path.clone(), methods.into_iter().filter(|(_, has)| *has).map(|(method, _)| method).collect())
    });
    Addresses::new(all.collect())
}
