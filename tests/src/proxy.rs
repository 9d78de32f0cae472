//! A wire that can be cut: stands between a client and the server, passes requests on one by one, and at a chosen one
//! loses it, loses its answer, sends it twice, or calls the test so that it can kill someone at that very moment.
//! Knows HTTP/1.1 just so far; nothing of what is said over it.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard};

/// Where the server is at present; it may have another port after a restart.
#[derive(Clone, Debug, Default)]
pub struct Target(Arc<Mutex<String>>);

impl Target {
    /// Host and port from now on.
    pub fn set(&self, address: &str) {
        *held(&self.0) = address.to_owned();
    }

    /// Host and port.
    pub fn get(&self) -> String {
        held(&self.0).clone()
    }
}

/// A moment in the life of a request at which the test is called.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moment {
    /// The client has sent it; the server knows nothing yet.
    Asked,
    /// The server has it and may be doing anything.
    Forwarded,
    /// The server has answered; the client knows nothing yet.
    Answered,
}

/// What goes wrong with one request.
pub enum Fault {
    /// The server never sees it.
    RequestLost,
    /// The client never hears the answer.
    AnswerLost,
    /// The server gets it twice; the client hears the second answer.
    Twice,
    /// The test is called at this moment; afterwards things go on as far as they can.
    Call(Moment, Box<dyn FnOnce() + Send>),
}

/// Picks requests by their line, as in `POST /api/v1/sessions`.
pub type Which = fn(&str) -> bool;

/// A request as it was sent.
#[derive(Clone, Debug)]
pub struct Recorded {
    /// Method and path with query.
    pub line: String,
    bytes: Vec<u8>,
    body_from: usize,
}

impl Recorded {
    /// The body as it was sent.
    pub fn body(&self) -> &[u8] {
        &self.bytes[self.body_from..]
    }
}

struct Armed {
    /// How many of the requests that it applies to still pass before it strikes.
    after: usize,
    applies: Which,
    fault: Fault,
}

#[derive(Default)]
struct Shared {
    target: Target,
    armed: Mutex<Option<Armed>>,
    keep: Mutex<Option<Which>>,
    kept: Mutex<Vec<Recorded>>,
    over: AtomicBool,
}

/// The wire of one client. Ends with the test.
pub struct Proxy {
    address: String,
    shared: Arc<Shared>,
}

impl Proxy {
    /// Listens on a free port and passes everything to the target.
    pub fn start(target: &Target) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let address = listener.local_addr().expect("it has an address").to_string();
        let shared = Arc::new(Shared { target: target.clone(), ..Shared::default() });
        let mine = shared.clone();
        std::thread::spawn(move || {
            for client in listener.incoming().flatten() {
                if mine.over.load(Ordering::Relaxed) {
                    return;
                }
                let shared = mine.clone();
                std::thread::spawn(move || shared.serve(client));
            }
        });
        Self { address, shared }
    }

    /// What the client takes for the server.
    pub fn url(&self) -> String {
        format!("http://{}", self.address)
    }

    /// Lets a fault strike: the request after so many others whose line (`POST /path`) it applies to.
    pub fn arm(&self, after: usize, applies: Which, fault: Fault) {
        *held(&self.shared.armed) = Some(Armed { after, applies, fault });
    }

    /// Takes back a fault that did not strike; whether there was one.
    pub fn disarm(&self) -> bool {
        held(&self.shared.armed).take().is_some()
    }

    /// Keeps requests of this kind that the server says yes to (2xx) from now on, to be sent again later.
    pub fn keep(&self, which: Which) {
        *held(&self.shared.keep) = Some(which);
    }

    /// What was kept.
    pub fn kept(&self) -> Vec<Recorded> {
        held(&self.shared.kept).clone()
    }

    /// Forgets what was kept.
    pub fn forget(&self) {
        held(&self.shared.kept).clear();
    }

    /// Sends a request again, out of its order; the status of the answer, if there was one.
    pub fn replay(&self, request: &Recorded) -> Option<u16> {
        status(&receive(self.shared.send(&request.bytes).ok()?).ok()?)
    }
}

impl Drop for Proxy {
    fn drop(&mut self) {
        self.shared.over.store(true, Ordering::Relaxed);
        // wakes the listening thread, which then sees that it is over
        drop(TcpStream::connect(&self.address));
    }
}

impl Shared {
    /// One connection, one request: the server is asked to close after its answer.
    fn serve(&self, mut client: TcpStream) {
        let Some(request) = read_request(&client) else { return };
        let answer = match self.strikes(&request.line) {
            None => self.exchange(&request),
            Some(Fault::RequestLost) => return,
            Some(Fault::AnswerLost) => {
                drop(self.exchange(&request));
                return;
            }
            Some(Fault::Twice) => {
                drop(self.exchange(&request));
                self.exchange(&request)
            }
            Some(Fault::Call(Moment::Asked, call)) => {
                call();
                self.exchange(&request)
            }
            Some(Fault::Call(Moment::Forwarded, call)) => self.send(&request.bytes).and_then(|server| {
                call();
                receive(server)
            }),
            Some(Fault::Call(Moment::Answered, call)) => {
                let answer = self.exchange(&request);
                call();
                answer
            }
        };
        if let Ok(answer) = answer {
            // the client may be gone
            let _ = client.write_all(&answer);
            let _ = client.shutdown(Shutdown::Both);
        }
    }

    fn strikes(&self, line: &str) -> Option<Fault> {
        let mut armed = held(&self.armed);
        let next = armed.as_mut()?;
        if !(next.applies)(line) {
            return None;
        }
        if next.after > 0 {
            next.after -= 1;
            return None;
        }
        armed.take().map(|struck| struck.fault)
    }

    fn exchange(&self, request: &Recorded) -> std::io::Result<Vec<u8>> {
        let answer = receive(self.send(&request.bytes)?)?;
        let wanted = held(&self.keep).is_some_and(|keep| keep(&request.line));
        if wanted && status(&answer).is_some_and(|status| status < 300) {
            held(&self.kept).push(request.clone());
        }
        Ok(answer)
    }

    fn send(&self, request: &[u8]) -> std::io::Result<TcpStream> {
        let mut server = TcpStream::connect(self.target.get())?;
        server.write_all(request)?;
        Ok(server)
    }
}

fn receive(mut server: TcpStream) -> std::io::Result<Vec<u8>> {
    let mut answer = Vec::new();
    server.read_to_end(&mut answer)?;
    if answer.is_empty() { Err(std::io::ErrorKind::UnexpectedEof.into()) } else { Ok(answer) }
}

/// The status in the first line of an answer.
fn status(answer: &[u8]) -> Option<u16> {
    let first = answer.split(|b| *b == b'\n').next()?;
    std::str::from_utf8(first).ok()?.split(' ').nth(1)?.parse().ok()
}

/// Reads one request and asks, in its name, for the connection to be closed after the answer.
fn read_request(client: &TcpStream) -> Option<Recorded> {
    let mut reader = BufReader::new(client);
    let mut head = String::new();
    let mut length = 0;
    let mut line = String::new();
    loop {
        line.clear();
        if reader.read_line(&mut line).ok()? == 0 {
            return None;
        }
        let (name, value) = line.split_once(':').unwrap_or((&line, ""));
        match name.to_ascii_lowercase().as_str() {
            "connection" => continue,
            "content-length" => length = value.trim().parse().ok()?,
            "transfer-encoding" => panic!("a body without a length is more HTTP than this knows"),
            _ => {}
        }
        if line.trim().is_empty() {
            break;
        }
        head.push_str(&line);
    }
    head.push_str("Connection: close\r\n\r\n");
    let body_from = head.len();
    let line = head.lines().next()?.trim_end_matches(" HTTP/1.1").to_owned();
    let mut bytes = head.into_bytes();
    bytes.resize(body_from + length, 0);
    reader.read_exact(&mut bytes[body_from..]).ok()?;
    Some(Recorded { line, bytes, body_from })
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // a thread that failed while holding it has failed the test already
    mutex.lock().unwrap_or_else(|poisoned| poisoned.into_inner())
}
