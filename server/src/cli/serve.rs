//! `tarn-server serve`.

use tarn_domain::catalogue::FOLD_VERSION;
use tokio::signal::unix::{SignalKind, signal};

use super::Done;
use crate::app::Application;
use crate::platform::config::{Config, ServeSettings, Settings};
use crate::platform::ending::Ending;

/// Serves until SIGTERM or SIGINT; requests under way are answered first, event streams end at once.
pub async fn run(settings: &Settings, serve: &ServeSettings) -> Done {
    let app = Application::build(Config::load(settings, serve)?).await.map_err(|err| err.to_string())?;
    if let Some(shift) = app.ctx.clock.shift() {
        eprintln!("tarn-server: the clock is shifted by {shift}");
    }
    if app.ctx.config.fold_version < FOLD_VERSION {
        eprintln!("tarn-server: this is a drill: acts as a server of fold {}", app.ctx.config.fold_version);
    }
    if app.ctx.post.is_none() {
        eprintln!(
            "tarn-server: no mail is sent, since mail_url is not set; messages stand on people's pages"
        );
    }
    if let Some(address) = app.metrics_address() {
        eprintln!("tarn-server: metrics at http://{address}/metrics");
    }
    super::print(&format!("listening on http://{}\n", app.address()))?;
    let (handle, ending) = (app.handle(), app.ctx.part::<Ending>());
    let mut term = signal(SignalKind::terminate()).map_err(|err| err.to_string())?;
    let mut int = signal(SignalKind::interrupt()).map_err(|err| err.to_string())?;
    actix_web::rt::spawn(async move {
        tokio::select! {
            _ = term.recv() => {}
            _ = int.recv() => {}
        }
        ending.begin();
        handle.stop(true).await;
    });
    app.run().await.map_err(|err| err.to_string())
}
