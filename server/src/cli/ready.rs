//! `tarn-server ready`: asks the server that runs on this machine, as a container's or a service's health check does.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use super::Done;
use crate::platform::config::{Config, ServeSettings, Settings};

/// Arguments of `ready`.
#[derive(clap::Args)]
pub struct Args {
    /// Where it listens, if the settings don't say. In tarn.toml: listen
    #[arg(long, env = "TARN_LISTEN", value_name = "ADDR")]
    listen: Option<SocketAddr>,
}

/// How long it has to answer.
const PATIENCE: Duration = Duration::from_secs(4);
/// An answer that is longer is no answer of ours.
const MOST: u64 = 64 * 1024;

/// Runs it: says what the server said; a failure if it can't do its work.
pub async fn run(settings: &Settings, args: &Args) -> Done {
    let serve = ServeSettings { listen: args.listen, ..ServeSettings::default() };
    let address = near(Config::load_offline_serving(settings, &serve)?.listen);
    let answer = tokio::time::timeout(PATIENCE, ask(address)).await;
    let answer = answer.map_err(|_| format!("{address} does not answer"))?;
    let answer = answer.map_err(|err| format!("{address}: {err}"))?;
    let (head, body) = answer.split_once("\r\n\r\n").unwrap_or((&answer, ""));
    match head.split(' ').nth(1) {
        Some("200") => super::print(&format!("{}\n", body.trim())),
        _ => Err(format!("{address} is not ready: {}", head.lines().next().unwrap_or("it said nothing"))),
    }
}

/// Where a server that listens on all addresses is reached from here.
fn near(listen: SocketAddr) -> SocketAddr {
    let ip = match listen.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => Ipv4Addr::LOCALHOST.into(),
        IpAddr::V6(ip) if ip.is_unspecified() => Ipv6Addr::LOCALHOST.into(),
        ip => ip,
    };
    SocketAddr::new(ip, listen.port())
}

async fn ask(address: SocketAddr) -> std::io::Result<String> {
    let mut stream = TcpStream::connect(address).await?;
    let asked = format!("GET /readyz HTTP/1.0\r\nHost: {address}\r\nAccept: application/json\r\n\r\n");
    stream.write_all(asked.as_bytes()).await?;
    let mut answer = Vec::new();
    stream.take(MOST).read_to_end(&mut answer).await?;
    Ok(String::from_utf8_lossy(&answer).into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_addresses_are_reached_by_the_nearest() {
        for (listen, asked) in
            [("0.0.0.0:8080", "127.0.0.1:8080"), ("[::]:8080", "[::1]:8080"), ("10.0.0.7:81", "10.0.0.7:81")]
        {
            let listen = listen.parse().expect("an address");
            assert_eq!(near(listen).to_string(), asked);
        }
    }
}
