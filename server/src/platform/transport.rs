//! How a request came here: from which address, and whether a cookie may travel on that way.
//!
//! Pages over plain http are served to the machine itself only.

use std::net::{IpAddr, Ipv4Addr};

use actix_web::HttpRequest;
use actix_web::http::header;

use super::config::Config;
use super::errors::{PLAIN_HTTP, Problem, Result};

/// A way on which a cookie may travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// https, ended by the proxy in front.
    Https,
    /// Plain http that never leaves the machine.
    Loopback,
}

impl Way {
    /// The name of the session cookie on this way.
    pub fn cookie_name(self) -> &'static str {
        match self {
            Self::Https => "__Host-tarn",
            Self::Loopback => "tarn",
        }
    }
}

/// The way this request came, or a refusal that says why.
pub fn way(req: &HttpRequest, config: &Config) -> Result<Way> {
    if config.is_https() {
        return Ok(Way::Https);
    }
    let near = req.peer_addr().is_none_or(|peer| peer.ip().is_loopback());
    if near && is_loopback_name(host(req)) { Ok(Way::Loopback) } else { Err(Problem::new(&PLAIN_HTTP)) }
}

fn host(req: &HttpRequest) -> &str {
    req.headers().get(header::HOST).and_then(|v| v.to_str().ok()).unwrap_or("")
}

fn is_loopback_name(host: &str) -> bool {
    let name = match host.strip_prefix('[') {
        Some(v6) => v6.split(']').next().unwrap_or(""),
        None => host.split(':').next().unwrap_or(""),
    };
    name == "localhost" || name.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback())
}

/// The address of the visitor: the peer, or what a trusted proxy says.
pub fn visitor_address(req: &HttpRequest, config: &Config) -> IpAddr {
    let peer = req.peer_addr().map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |peer| peer.ip());
    let told = req
        .headers()
        .get_all("x-forwarded-for")
        .filter_map(|v| v.to_str().ok())
        .collect::<Vec<_>>()
        .join(",");
    visitor_behind(peer, &told, &config.trusted_proxies)
}

/// Each trusted proxy vouches for the one before it; the first that nobody vouches for is the visitor.
fn visitor_behind(peer: IpAddr, told: &str, trusted: &[IpAddr]) -> IpAddr {
    let mut address = peer;
    for before in told.rsplit(',') {
        if !trusted.contains(&address) {
            break;
        }
        let Ok(before) = before.trim().parse() else { break };
        address = before;
    }
    address
}

/// Whether the request was sent by a page of ours, as far as the browser says.
pub fn is_from_here(req: &HttpRequest, config: &Config) -> bool {
    let text = |name: &str| req.headers().get(name).and_then(|v| v.to_str().ok());
    match (text("origin"), text("sec-fetch-site")) {
        (Some(origin), _) => origin == own_origin(req, config),
        (None, Some(site)) => site == "same-origin" || site == "none",
        // Not a browser: it holds no cookie that it did not get by itself.
        (None, None) => true,
    }
}

/// The address that begins every address of this site, as the visitor types it.
pub fn own_origin(req: &HttpRequest, config: &Config) -> String {
    match &config.public_url {
        Some(url) => url.splitn(4, '/').take(3).collect::<Vec<_>>().join("/"),
        None => format!("http://{}", host(req)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_trusted_proxies_are_believed() {
        let ip = |text: &str| text.parse::<IpAddr>().expect("an address");
        let trusted = [ip("10.0.0.1"), ip("10.0.0.2")];
        assert_eq!(visitor_behind(ip("10.0.0.1"), "6.6.6.6, 7.7.7.7", &trusted), ip("7.7.7.7"));
        assert_eq!(visitor_behind(ip("10.0.0.1"), "6.6.6.6, 10.0.0.2", &trusted), ip("6.6.6.6"));
        assert_eq!(visitor_behind(ip("9.9.9.9"), "7.7.7.7", &trusted), ip("9.9.9.9"));
        assert_eq!(visitor_behind(ip("10.0.0.1"), "", &trusted), ip("10.0.0.1"));
    }

    #[test]
    fn names_of_this_machine_are_known() {
        for near in ["localhost:8080", "127.0.0.1", "127.0.0.1:1", "[::1]:8080"] {
            assert!(is_loopback_name(near), "{near}");
        }
        for far in ["", "tarn.example", "localhost.example:80", "10.0.0.1:8080"] {
            assert!(!is_loopback_name(far), "{far}");
        }
    }
}
