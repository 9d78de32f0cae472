//! The server, over HTTP. The only module that knows HTTP; it knows no meaning of what it carries.

mod live;

use std::io::Write as _;
use std::time::Duration;

use flate2::Compression;
use flate2::write::GzEncoder;
use reqwest::blocking::{Client, Response};
use reqwest::header::{CONTENT_ENCODING, CONTENT_TYPE, IF_MATCH};
use reqwest::{Method, StatusCode, Url};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use crate::clock;
use crate::failure::{Failure, Outcome};
use crate::folder::Folder;
use crate::problem::{Problem, words_of};

pub use live::{Event, Following};

/// A session as it is kept beside the records (mode 0600).
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Session {
    /// The server's address.
    pub server: String,
    /// The account's id.
    pub account: String,
    /// The login name.
    pub login_name: String,
    access_token: String,
    refresh_token: String,
    expires_ms: i64,
}

#[derive(Debug, Deserialize)]
struct Opened {
    access_token: String,
    refresh_token: String,
    expires_in: i64,
    account: Whose,
}

#[derive(Debug, Deserialize)]
struct Whose {
    id: String,
    login_name: String,
}

/// Why a call brought nothing.
#[derive(Debug, Clone)]
pub enum Trouble {
    /// The server said no.
    Problem(Box<Problem>),
    /// There is no server, or no session.
    Failure(Failure),
}

impl From<Failure> for Trouble {
    fn from(failure: Failure) -> Self {
        Self::Failure(failure)
    }
}

impl From<Trouble> for Failure {
    fn from(trouble: Trouble) -> Self {
        match trouble {
            Trouble::Failure(failure) => failure,
            Trouble::Problem(problem) => match problem.status {
                _ if problem.code() == "device-ended" => Self::needs_login(words_of(&problem.value)),
                401 => Self::needs_login(words_of(&problem.value)),
                502..=504 => Self::needs_network(words_of(&problem.value)).hint("Try again in a moment."),
                _ => Self::refused(words_of(&problem.value)),
            },
        }
    }
}

/// A server that somebody is logged in to.
#[derive(Debug)]
pub struct Remote {
    http: Client,
    session: Session,
    folder: Folder,
}

/// The address as it is kept; plain http only to this machine.
///
/// # Errors
/// What is wrong with it.
pub fn server_address(typed: &str) -> Outcome<String> {
    let url = Url::parse(typed.trim()).map_err(|e| {
        Failure::wrong_use(format!("{typed:?} is no address: {e}")).hint("https://club.example")
    })?;
    let host = url.host_str().unwrap_or_default();
    let own = host == "localhost" || host.starts_with("127.") || host == "[::1]";
    match url.scheme() {
        "https" => {}
        "http" if own => {}
        "http" => {
            return Err(Failure::wrong_use("over plain http anybody on the way could read the password")
                .hint("Use the https address."));
        }
        other => {
            return Err(
                Failure::wrong_use(format!("{other:?} is no way to a server")).hint("https://club.example")
            );
        }
    }
    Ok(url.as_str().trim_end_matches('/').to_owned())
}

fn http() -> Outcome<Client> {
    http_that_waits(Duration::from_secs(300))
}

/// One that waits so long for an answer, and for each piece of it.
fn http_that_waits(longest: Duration) -> Outcome<Client> {
    let client = Client::builder()
        .user_agent(concat!("tarn/", env!("CARGO_PKG_VERSION")))
        .connect_timeout(Duration::from_secs(15))
        .timeout(longest)
        // less than a server keeps an idle connection: a push sent as it hangs up would get no answer
        .pool_idle_timeout(Duration::from_secs(2))
        .redirect(reqwest::redirect::Policy::none())
        .build();
    client.map_err(|e| Failure::refused(format!("no connection can be made: {e}")))
}

/// Logs in.
///
/// # Errors
/// The server's no, or that there is no server.
pub fn log_in(
    server: &str,
    login_name: &str,
    password: &str,
    code: Option<&str>,
) -> Result<Session, Trouble> {
    let mut body = json!({ "login_name": login_name, "password": password });
    if let Some(code) = code {
        body["code"] = code.into();
    }
    open(server, "sessions", &body)
}

/// Accepts an invitation: makes the account and logs in.
///
/// # Errors
/// The server's no, or that there is no server.
pub fn join(server: &str, who: &Value) -> Result<Session, Trouble> {
    open(server, "invitations/accept", who)
}

fn open(server: &str, path: &str, body: &Value) -> Result<Session, Trouble> {
    let request = http()?.post(format!("{server}/api/v1/{path}")).json(body);
    let opened: Opened = read(request.send().map_err(no_answer)?)?;
    Ok(Session::of(server, opened))
}

impl Session {
    fn of(server: &str, opened: Opened) -> Self {
        Self {
            server: server.to_owned(),
            account: opened.account.id,
            login_name: opened.account.login_name,
            access_token: opened.access_token,
            refresh_token: opened.refresh_token,
            expires_ms: clock::wall_ms() + opened.expires_in * 1000,
        }
    }

    /// Keeps it beside the records.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn keep(&self, folder: &Folder) -> Outcome {
        let text = serde_json::to_string_pretty(self).map_err(Failure::refused)?;
        folder.keep_token_text(Some(&text))
    }

    /// The session of the records in use.
    ///
    /// # Errors
    /// When nobody is logged in.
    pub fn kept(folder: &Folder) -> Outcome<Self> {
        let text = folder.token_text().ok_or_else(|| Failure::needs_login("nobody is logged in here"))?;
        serde_json::from_str(&text).map_err(|_| Failure::needs_login("the session kept here can't be read"))
    }
}

impl Remote {
    /// The server of the records in use.
    ///
    /// # Errors
    /// When nobody is logged in.
    pub fn of(folder: &Folder) -> Outcome<Self> {
        Ok(Self { http: http()?, session: Session::kept(folder)?, folder: folder.clone() })
    }

    /// The session.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// GET.
    ///
    /// # Errors
    /// The server's no, or that there is no server.
    pub fn get(&mut self, path: &str) -> Result<Value, Trouble> {
        self.call(Method::GET, path, None)
    }

    /// GET, read into a type of the caller's.
    ///
    /// # Errors
    /// The server's no, or that there is no server.
    pub fn get_as<T: for<'de> Deserialize<'de>>(&mut self, path: &str) -> Result<T, Trouble> {
        self.call(Method::GET, path, None)
    }

    /// POST with JSON.
    ///
    /// # Errors
    /// The server's no, or that there is no server.
    pub fn post(&mut self, path: &str, body: &Value) -> Result<Value, Trouble> {
        self.call(Method::POST, path, Some(body.to_string()))
    }

    /// PUT with JSON.
    ///
    /// # Errors
    /// The server's no, or that there is no server.
    pub fn put(&mut self, path: &str, body: &Value) -> Result<Value, Trouble> {
        self.call(Method::PUT, path, Some(body.to_string()))
    }

    /// PUT with JSON over a version that was read: refused if somebody changed it meanwhile.
    ///
    /// # Errors
    /// The server's no, or that there is no server.
    pub fn change(&mut self, path: &str, body: &Value, version: i64) -> Result<Value, Trouble> {
        self.call_over(Method::PUT, path, Some(body.to_string()), Some(format!("\"{version}\"")))
    }

    /// DELETE.
    ///
    /// # Errors
    /// The server's no, or that there is no server.
    pub fn delete(&mut self, path: &str) -> Result<Value, Trouble> {
        self.call(Method::DELETE, path, None)
    }

    /// POST with a JSON text, read into a type of the caller's.
    ///
    /// # Errors
    /// The server's no, or that there is no server.
    pub fn post_text<T: for<'de> Deserialize<'de>>(
        &mut self,
        path: &str,
        body: String,
    ) -> Result<T, Trouble> {
        self.call(Method::POST, path, Some(body))
    }

    /// Ends the session on the server.
    ///
    /// # Errors
    /// The server's no, or that there is no server.
    pub fn log_out(&mut self) -> Result<Value, Trouble> {
        self.call(Method::DELETE, "sessions/current", None)
    }

    fn call<T: for<'de> Deserialize<'de>>(
        &mut self,
        method: Method,
        path: &str,
        body: Option<String>,
    ) -> Result<T, Trouble> {
        self.call_over(method, path, body, None)
    }

    /// `over` is the version that was read, as `If-Match` has it.
    fn call_over<T: for<'de> Deserialize<'de>>(
        &mut self,
        method: Method,
        path: &str,
        body: Option<String>,
        over: Option<String>,
    ) -> Result<T, Trouble> {
        if self.session.expires_ms - clock::wall_ms() < 20_000 {
            self.refresh()?;
        }
        let body = body.map(Sent::of);
        let response = self.send(method.clone(), path, body.as_ref(), over.as_deref())?;
        if response.status() != StatusCode::UNAUTHORIZED {
            return read(response);
        }
        self.refresh()?;
        read(self.send(method, path, body.as_ref(), over.as_deref())?)
    }

    fn send(
        &self,
        method: Method,
        path: &str,
        body: Option<&Sent>,
        over: Option<&str>,
    ) -> Result<Response, Trouble> {
        let url = format!("{}/api/v1/{path}", self.session.server);
        let mut request = self.http.request(method, url).bearer_auth(&self.session.access_token);
        if let Some(version) = over {
            request = request.header(IF_MATCH, version);
        }
        if let Some(sent) = body {
            request = request.header(CONTENT_TYPE, "application/json").body(sent.bytes.clone());
            if sent.gzip {
                request = request.header(CONTENT_ENCODING, "gzip");
            }
        }
        request.send().map_err(no_answer)
    }

    /// Another process may have been first; then its session is taken.
    fn refresh(&mut self) -> Result<(), Trouble> {
        let kept = Session::kept(&self.folder)?;
        if kept.access_token != self.session.access_token && kept.expires_ms - clock::wall_ms() > 20_000 {
            self.session = kept;
            return Ok(());
        }
        let url = format!("{}/api/v1/sessions/refresh", self.session.server);
        let body = json!({ "refresh_token": kept.refresh_token });
        let opened: Opened = read(self.http.post(url).json(&body).send().map_err(no_answer)?)?;
        self.session = Session::of(&self.session.server, opened);
        self.session.keep(&self.folder)?;
        Ok(())
    }
}

/// A body as it goes out.
struct Sent {
    bytes: Vec<u8>,
    gzip: bool,
}

impl Sent {
    fn of(text: String) -> Self {
        if text.len() > 4096 {
            let mut packed = GzEncoder::new(Vec::with_capacity(text.len() / 3), Compression::fast());
            if let Some(bytes) = packed.write_all(text.as_bytes()).ok().and_then(|()| packed.finish().ok()) {
                return Self { bytes, gzip: true };
            }
        }
        Self { bytes: text.into_bytes(), gzip: false }
    }
}

fn no_answer(error: reqwest::Error) -> Trouble {
    let mut why = error.to_string();
    let mut source = std::error::Error::source(&error);
    while let Some(deeper) = source {
        why = format!("{why}: {deeper}");
        source = deeper.source();
    }
    Trouble::Failure(
        Failure::needs_network(format!("the server does not answer ({why})"))
            .hint("Nothing is lost; try again when there is a network."),
    )
}

fn read<T: for<'de> Deserialize<'de>>(response: Response) -> Result<T, Trouble> {
    let status = response.status();
    let bytes = response.bytes().map_err(no_answer)?;
    if status.is_success() {
        let bytes: &[u8] = if bytes.is_empty() { b"null" } else { &bytes };
        let odd = |e| Failure::needs_network(format!("the server's answer can't be read: {e}"));
        return serde_json::from_slice(bytes).map_err(odd).map_err(Into::into);
    }
    Err(problem_in(status, &bytes))
}

/// Why an answer that is no success brought nothing.
fn problem_in(status: StatusCode, bytes: &[u8]) -> Trouble {
    let value: Value = serde_json::from_slice(bytes).unwrap_or_default();
    if value["type"].is_string() {
        return Trouble::Problem(Box::new(Problem { status: status.as_u16(), value }));
    }
    let says = format!("the server answers with status {status} and no reason");
    let failure =
        if status.is_server_error() { Failure::needs_network(says) } else { Failure::refused(says) };
    Trouble::Failure(failure)
}
