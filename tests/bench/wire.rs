//! One HTTP/1.1 connection that stays open, without anything between the driver and the socket: what it costs must
//! not count as the server's. Knows as much of HTTP as the server's answers need.
#![allow(dead_code, reason = "each driver uses its part")]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;

/// The connection.
pub struct Wire {
    socket: BufReader<TcpStream>,
    head: String,
}

/// What came back.
pub struct Answer {
    /// The status.
    pub status: u16,
    /// The body.
    pub body: Vec<u8>,
}

impl Wire {
    /// Connects to `host:port` as the owner of an access token.
    pub fn open(address: &str, token: &str) -> Self {
        let socket = TcpStream::connect(address).expect("the server listens");
        socket.set_nodelay(true).expect("the socket takes it");
        let head = format!("host: {address}\r\nauthorization: Bearer {token}\r\n");
        Self { socket: BufReader::new(socket), head }
    }

    /// Sends a JSON body and waits for the whole answer.
    pub fn post(&mut self, path: &str, body: &str) -> Answer {
        let head = &self.head;
        let length = body.len();
        let request = format!(
            "POST {path} HTTP/1.1\r\n{head}content-type: application/json\r\ncontent-length: {length}\r\n\r\n{body}"
        );
        self.socket.get_mut().write_all(request.as_bytes()).expect("the server reads");
        self.answer()
    }

    /// Reads a page of answers as the owner of a token, packed as a browser would take it; the body stays packed.
    pub fn get(&mut self, path: &str, host: &str, token: &str) -> Answer {
        let request = format!(
            "GET {path} HTTP/1.1\r\nhost: {host}\r\nauthorization: Bearer {token}\r\naccept-encoding: gzip\r\n\r\n"
        );
        self.socket.get_mut().write_all(request.as_bytes()).expect("the server reads");
        self.answer()
    }

    fn line(&mut self) -> String {
        let mut line = String::new();
        self.socket.read_line(&mut line).expect("the server answers");
        line.trim_end().to_ascii_lowercase()
    }

    fn answer(&mut self) -> Answer {
        let status = self.line().split(' ').nth(1).and_then(|s| s.parse().ok()).expect("a status");
        let mut length = None;
        loop {
            let line = self.line();
            if line.is_empty() {
                break;
            }
            if let Some(n) = line.strip_prefix("content-length:") {
                length = n.trim().parse().ok();
            }
        }
        let mut body = Vec::new();
        match length {
            Some(n) => {
                body.resize(n, 0);
                self.socket.read_exact(&mut body).expect("the server answers");
            }
            None => self.chunks(&mut body),
        }
        Answer { status, body }
    }

    fn chunks(&mut self, body: &mut Vec<u8>) {
        loop {
            let length = usize::from_str_radix(&self.line(), 16).expect("the length of a chunk");
            let from = body.len();
            body.resize(from + length, 0);
            self.socket.read_exact(&mut body[from..]).expect("the server answers");
            self.line();
            if length == 0 {
                return;
            }
        }
    }
}
