//! An event stream (server-sent events) as another program would read it, event by event.

use crate::api::Caller;
use reqwest::Method;
use reqwest::blocking::Response;
use serde_json::Value;
use std::io::{BufRead, BufReader};

/// One event.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// What kind.
    pub name: String,
    /// Its id; empty if it has none.
    pub id: String,
    /// What it tells.
    pub data: Value,
}

/// An open stream.
#[derive(Debug)]
pub struct Events(BufReader<Response>);

impl Events {
    /// Opens it, after an event that came before if there is one.
    #[track_caller]
    pub fn open(caller: &Caller, path: &str, after: Option<&str>) -> Self {
        let mut request = caller.request(Method::GET, path);
        if let Some(id) = after {
            request = request.header("last-event-id", id);
        }
        let answer = request.send().unwrap_or_else(|e| panic!("{path}: {e}"));
        assert_eq!(answer.status().as_u16(), 200, "{path}: {:?}", answer.text());
        assert_eq!(answer.headers()["content-type"], "text/event-stream; charset=utf-8");
        Self(BufReader::new(answer))
    }

    /// Waits for the next event; none when the server ended the answer as it should. A connection that breaks off fails
    /// the test.
    #[track_caller]
    pub fn next_event(&mut self) -> Option<Event> {
        let mut event = Event { name: String::new(), id: String::new(), data: Value::Null };
        loop {
            let mut line = String::new();
            if self.0.read_line(&mut line).unwrap_or_else(|e| panic!("it broke off: {e}")) == 0 {
                return None;
            }
            match line.trim_end().split_once(": ") {
                Some(("event", name)) => name.clone_into(&mut event.name),
                Some(("id", id)) => id.clone_into(&mut event.id),
                Some(("data", data)) => event.data = serde_json::from_str(data).expect("JSON"),
                _ if line.trim_end().is_empty() && !event.name.is_empty() => return Some(event),
                _ => {}
            }
        }
    }

    /// The next event, which must be of this kind.
    #[track_caller]
    pub fn expect(&mut self, name: &str) -> Event {
        let event = self.next_event().unwrap_or_else(|| panic!("it ended before {name}"));
        assert_eq!(event.name, name, "{event:?}");
        event
    }

    /// The last event: the problem for which it ends.
    #[track_caller]
    pub fn expect_end(&mut self, code: &str) -> Value {
        let end = self.expect("end").data;
        assert_eq!(end["type"], format!("/problems/{code}"), "{end}");
        assert_eq!(self.next_event(), None);
        end
    }
}
