//! An event stream of the server (server-sent events), read as it comes.

use std::io::{BufRead, BufReader, Read};
use std::time::Duration;

use reqwest::StatusCode;
use reqwest::blocking::{Client, Response};
use reqwest::header::ACCEPT;
use serde_json::Value;

use super::{Remote, Trouble, http_that_waits, no_answer, problem_in};
use crate::clock;
use crate::problem::Problem;

/// The server gives a sign of life every 15 seconds; after so long without one the connection is dead.
const SILENCE: Duration = Duration::from_secs(50);

/// What an event stream says.
#[derive(Debug, Clone)]
pub enum Event {
    /// There is an op of this number.
    Op(u64),
    /// Nothing new; the server is still there.
    Alive,
    /// It is over, and why.
    End(Box<Problem>),
}

/// An open event stream.
#[derive(Debug)]
pub struct Following<R = Response> {
    lines: BufReader<R>,
}

impl Remote {
    /// Opens an event stream.
    ///
    /// # Errors
    /// The server's no, or that there is no server.
    pub fn follow(&mut self, path: &str) -> Result<Following, Trouble> {
        if self.session.expires_ms - clock::wall_ms() < 20_000 {
            self.refresh()?;
        }
        // one that waits longer than a sign of life takes, and not for the end of the answer
        let http = http_that_waits(SILENCE)?;
        let mut answer = self.ask_to_follow(&http, path)?;
        if answer.status() == StatusCode::UNAUTHORIZED {
            self.refresh()?;
            answer = self.ask_to_follow(&http, path)?;
        }
        if answer.status().is_success() {
            return Ok(Following::of(answer));
        }
        let status = answer.status();
        Err(problem_in(status, &answer.bytes().map_err(no_answer)?))
    }

    fn ask_to_follow(&self, http: &Client, path: &str) -> Result<Response, Trouble> {
        let url = format!("{}/api/v1/{path}", self.session.server);
        let request = http.get(url).bearer_auth(&self.session.access_token);
        request.header(ACCEPT, "text/event-stream").send().map_err(no_answer)
    }
}

impl<R: Read> Following<R> {
    fn of(answer: R) -> Self {
        Self { lines: BufReader::new(answer) }
    }

    /// Waits for the next event; none when the connection is gone.
    pub fn next_event(&mut self) -> Option<Event> {
        let (mut name, mut id, mut data) = (String::new(), String::new(), String::new());
        loop {
            let mut line = String::new();
            // whatever is wrong with the connection, it is gone
            if self.lines.read_line(&mut line).ok()? == 0 {
                return None;
            }
            let line = line.trim_end_matches(['\n', '\r']);
            if line.is_empty() {
                match event(&name, &id, &data) {
                    Some(event) => return Some(event),
                    None => [&mut name, &mut id, &mut data].into_iter().for_each(String::clear),
                }
                continue;
            }
            let (field, value) = line.split_once(':').unwrap_or((line, ""));
            let value = value.strip_prefix(' ').unwrap_or(value);
            match field {
                // that it was opened is no sign that it lasts
                "" if value == "open" => {}
                "" => return Some(Event::Alive),
                "event" => value.clone_into(&mut name),
                "id" => value.clone_into(&mut id),
                "data" => data.push_str(value),
                _ => {}
            }
        }
    }
}

fn event(name: &str, id: &str, data: &str) -> Option<Event> {
    match name {
        "op" => Some(Event::Op(id.rsplit('/').next()?.parse().ok()?)),
        "end" => {
            let value: Value = serde_json::from_str(data).unwrap_or_default();
            let status = value["status"].as_u64().and_then(|s| u16::try_from(s).ok()).unwrap_or(0);
            Some(Event::End(Box::new(Problem { status, value })))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn events_are_read_as_they_come() {
        let text = "retry: 3000\n: open\n\nid: 0b/41\nevent: op\ndata: {\"seq\":41}\n\n: still here\n\n\
            event: news\ndata: x\n\nid: 0b/42\r\nevent: op\r\ndata: {}\r\n\r\n\
            event: end\ndata: {\"type\":\"/problems/session-ended\",\"status\":401}\n\nid: 0b/43\nevent: op\n";
        let mut stream = Following::of(text.as_bytes());
        let mut heard = Vec::new();
        while let Some(event) = stream.next_event() {
            heard.push(match event {
                Event::Op(seq) => seq.to_string(),
                Event::Alive => "alive".into(),
                Event::End(why) => format!("{} {}", why.status, why.code()),
            });
        }
        assert_eq!(heard, ["41", "alive", "42", "401 session-ended"]);
    }
}
