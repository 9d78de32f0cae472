//! Plain HTTP as another program would speak it: a caller with or without a token, and answers as values.

use crate::contract;
use crate::server::Server;
use reqwest::Method;
use reqwest::blocking::{Client, RequestBuilder};
use serde_json::Value;
use std::time::Duration;

/// Someone who calls the API.
#[derive(Debug, Clone)]
pub struct Caller {
    client: Client,
    base: String,
    token: Option<String>,
}

/// What came back.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The request, for messages.
    pub request: String,
    /// The status.
    pub status: u16,
    /// The content type without parameters.
    pub content_type: String,
    /// The headers.
    pub headers: reqwest::header::HeaderMap,
    /// The body as text.
    pub text: String,
}

impl Caller {
    /// A stranger.
    pub fn stranger(server: &Server) -> Self {
        Self::at(&server.url(""))
    }

    /// A stranger at an address.
    pub fn at(base: &str) -> Self {
        let client = Client::builder()
            .redirect(reqwest::redirect::Policy::none())
            // the server hangs up after five idle seconds: a request sent at that instant would get no answer
            .pool_idle_timeout(Duration::from_secs(2))
            .build();
        Self { client: client.expect("a client can be made"), base: base.to_owned(), token: None }
    }

    /// The same at the address of another server, or of the same one after it has moved.
    pub fn moved_to(&self, base: &str) -> Self {
        Self { base: base.to_owned(), ..self.clone() }
    }

    /// The same with an access token.
    pub fn with_token(&self, token: &str) -> Self {
        Self { token: Some(token.to_owned()), ..self.clone() }
    }

    /// A request, for what the short forms don't cover.
    pub fn request(&self, method: Method, path: &str) -> RequestBuilder {
        let request = self.client.request(method, format!("{}{path}", self.base));
        match &self.token {
            Some(token) => request.bearer_auth(token),
            None => request,
        }
    }

    /// GET.
    pub fn get(&self, path: &str) -> Answer {
        send(self.request(Method::GET, path))
    }

    /// POST with a JSON body.
    pub fn post(&self, path: &str, body: &Value) -> Answer {
        send(self.request(Method::POST, path).json(body))
    }

    /// PUT with a JSON body.
    pub fn put(&self, path: &str, body: &Value) -> Answer {
        send(self.request(Method::PUT, path).json(body))
    }

    /// DELETE.
    pub fn delete(&self, path: &str) -> Answer {
        send(self.request(Method::DELETE, path))
    }
}

/// Sends it and takes the answer apart.
pub fn send(request: RequestBuilder) -> Answer {
    try_send(request).unwrap_or_else(|e| panic!("{e}"))
}

/// The same where no answer is a possible outcome.
pub fn try_send(request: RequestBuilder) -> Result<Answer, String> {
    let (client, request) = request.build_split();
    let request = request.map_err(|e| e.to_string())?;
    let (method, path) = (request.method().to_string(), request.url().path().to_owned());
    let shown = format!("{method} {path}");
    let response = client.execute(request).map_err(|e| format!("{shown}: {e}"))?;
    let status = response.status().as_u16();
    let headers = response.headers().clone();
    let content_type = headers.get("content-type").and_then(|v| v.to_str().ok()).unwrap_or_default();
    let content_type = content_type.split(';').next().unwrap_or_default().trim().to_owned();
    // an event stream has no end that could be waited for
    let text = match content_type.as_str() {
        "text/event-stream" => String::new(),
        _ => response.text().map_err(|e| format!("{shown}: {e}"))?,
    };
    let answer = Answer { request: shown, status, content_type, headers, text };
    contract::hold(&method, &path, &answer);
    Ok(answer)
}

impl Answer {
    /// The body as JSON.
    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|e| panic!("no JSON ({e}): {self}"))
    }

    /// Fails the test unless the status is this one.
    #[track_caller]
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status, status, "{self}");
        self
    }

    /// Fails the test unless it is a problem (RFC 9457) of this status and code; gives its members.
    #[track_caller]
    pub fn problem(&self, status: u16, code: &str) -> Value {
        assert_eq!(self.status, status, "{self}");
        assert_eq!(self.content_type, "application/problem+json", "{self}");
        let problem = self.json();
        assert_eq!(problem["type"], format!("/problems/{code}"), "{self}");
        problem
    }
}

impl std::fmt::Display for Answer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} → {} {}\n{}", self.request, self.status, self.content_type, self.text)
    }
}
