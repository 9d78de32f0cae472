//! PostgreSQL in a container. Not removed by this process, since others share it: `tests/run` removes it at the end.

use super::admin;
use super::provider::{self, Found};
use testcontainers::core::wait::LogWaitStrategy;
use testcontainers::core::{ContainerPort, WaitFor};
use testcontainers::runners::AsyncRunner;
use testcontainers::{GenericImage, ImageExt};

/// Starts one from the image `TEST_POSTGRES_IMAGE`.
pub fn start() -> Result<Found, String> {
    let image = std::env::var("TEST_POSTGRES_IMAGE").unwrap_or_else(|_| "postgres:17".into());
    let (name, tag) = image.rsplit_once(':').unwrap_or((&image, "latest"));
    let wanted = GenericImage::new(name, tag)
        .with_exposed_port(ContainerPort::Tcp(5432))
        // the image starts the server twice; the first is for its own set-up only
        .with_wait_for(WaitFor::log(LogWaitStrategy::stderr("ready to accept connections").with_times(2)))
        .with_env_var("POSTGRES_USER", "tarn")
        .with_env_var("POSTGRES_HOST_AUTH_METHOD", "trust")
        .with_cmd(["postgres", "-c", "fsync=off", "-c", "full_page_writes=off", "-c", "max_connections=300"]);
    admin::wait_for(async move {
        let container = wanted.start().await.map_err(|e| e.to_string())?;
        let host = container.get_host().await.map_err(|e| e.to_string())?;
        let port = container.get_host_port_ipv4(5432).await.map_err(|e| e.to_string())?;
        let id = container.id().to_owned();
        // dropping it would remove it under the other test processes
        std::mem::forget(container);
        let found = Found {
            url: format!("postgres://tarn@{host}:{port}/postgres"),
            what: format!("container of {image}"),
        };
        provider::leave_word(&found, &format!("container {id}"));
        Ok(found)
    })
}
