//! A device of a room: the real client behind a wire that can be cut. Remembers what it was told is recorded.

use super::edit::Edit;
use super::page;
use super::world::World;
use flate2::read::GzDecoder;
use rand::Rng;
use rand::rngs::StdRng;
use rand::seq::IndexedRandom;
use serde_json::Value;
use std::cell::Cell;
use std::io::Read;
use std::process::Command;
use std::sync::{Arc, OnceLock};
use std::time::Duration;
use tarn_tests::keeper::Keeper;
use tarn_tests::people::{PASSWORD, Person};
use tarn_tests::process::{self, Ran};
use tarn_tests::proxy::{Fault, Moment, Proxy};
use tarn_tests::site::Visitor;

/// How a sync goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sync {
    Well,
    RequestLost(usize),
    AnswerLost(usize),
    Twice(usize),
    /// The client is killed at this moment of the request after so many.
    Killed(usize, Moment),
}

impl Sync {
    pub fn some(rng: &mut StdRng) -> Self {
        // a sync of one room pushes, if there is something, and pulls
        let after = rng.random_range(0..2);
        match rng.random_range(0..20) {
            0 => Self::RequestLost(after),
            1..4 => Self::AnswerLost(after),
            4..7 => Self::Twice(after),
            7..10 => {
                let moments = [Moment::Asked, Moment::Forwarded, Moment::Answered];
                Self::Killed(after, moments.choose(rng).copied().unwrap_or(Moment::Answered))
            }
            _ => Self::Well,
        }
    }
}

/// An op that the keeper was told is recorded.
#[derive(Clone, Debug)]
pub struct Written {
    pub op: String,
    pub what: String,
}

pub struct Device {
    keeper: Keeper,
    proxy: Proxy,
    owner: Person,
    visitor: Visitor,
    number: usize,
    /// How far its clock is off.
    pub skew_ms: i64,
    pub tanks: Vec<String>,
    pub stocks: Vec<String>,
    /// The room's state when it last synced.
    pub seen: Value,
    written: Vec<Written>,
    /// How many of them it had when it last synced well with the server as that is now.
    synced: usize,
    named: Cell<u32>,
    /// It stays away for good after so many phases.
    pub leaves_after: Option<usize>,
    /// What is kept from the wire dates from before the server went back, up to here.
    stale: usize,
}

/// Requests that carry or fetch ops.
fn of_ops(line: &str) -> bool {
    line.contains("/ops")
}

fn push(line: &str) -> bool {
    line.starts_with("POST ") && line.contains("/ops")
}

impl Device {
    pub fn new(world: &World, seed: u64, number: usize, owner: &Person, skew_ms: i64) -> Self {
        let proxy = Proxy::start(&world.target);
        proxy.keep(push);
        let device = Self {
            keeper: Keeper::new(&format!("s{seed}d{number}")),
            visitor: Visitor::at(&proxy.url()),
            proxy,
            owner: owner.clone(),
            number,
            skew_ms,
            tanks: Vec::new(),
            stocks: Vec::new(),
            seen: Value::Null,
            written: Vec::new(),
            synced: 0,
            named: Cell::new(0),
            leaves_after: None,
            stale: 0,
        };
        device.log_in().expect(0);
        device
    }

    fn log_in(&self) -> Ran {
        let url = self.proxy.url();
        let login = ["login", url.as_str(), "--login", &self.owner.login, "--password-stdin"];
        self.keeper.run_with_input(&login, &format!("{PASSWORD}\n"))
    }

    /// Makes the room that all devices share; its id.
    pub fn add_room(&mut self, world: &World) -> String {
        let made = self.keeper.json(&["room", "create", "Cellar"]);
        self.sync(world, Sync::Well).expect("the first sync goes well");
        made["room"].as_str().expect("a room has an id").to_owned()
    }

    /// Whether it takes part at present.
    pub fn is_gone(&self) -> bool {
        self.leaves_after == Some(0)
    }

    /// Whether it never comes back.
    pub fn is_lost(&self) -> bool {
        self.leaves_after.is_some()
    }

    /// A name that nothing in the room has.
    pub fn next_name(&self) -> String {
        self.named.set(self.named.get() + 1);
        format!("{}{:03}", ["x", "y", "z", "u", "v"][self.number], self.named.get())
    }

    /// What it has acknowledged to its keeper, in order.
    pub fn acknowledged(&self) -> &[Written] {
        &self.written
    }

    /// Those of them that it has brought to the server as that is now, and pulled.
    pub fn synced(&self) -> impl Iterator<Item = &str> {
        self.written[..self.synced].iter().map(|written| written.op.as_str())
    }

    pub fn server_went_back(&mut self) {
        self.synced = 0;
        self.stale = self.proxy.kept().len();
    }

    fn set_clock(&mut self, world: &World) {
        let offset = (world.shift_ms() + self.skew_ms) / 1000;
        self.keeper.set_clock((offset != 0).then(|| format!("{offset}s")));
    }

    /// The keeper records something.
    pub fn write(&mut self, world: &World, edit: &Edit) -> Result<String, String> {
        self.write_told(world, edit).map(|(said, _)| said)
    }

    /// The same, and what the program answered if it did it.
    pub fn write_told(&mut self, world: &World, edit: &Edit) -> Result<(String, Option<Value>), String> {
        self.set_clock(world);
        let mut arguments: Vec<&str> = edit.arguments.iter().map(String::as_str).collect();
        arguments.push("--json");
        let ran = self.keeper.run(&arguments);
        let what = edit.arguments.join(" ");
        match ran.code {
            Some(0) => {
                let told = ran.json();
                let op = told["op"].as_str().ok_or_else(|| format!("no id of an op: {ran}"))?.to_owned();
                self.written.push(Written { op: op.clone(), what: what.clone() });
                self.tanks.extend(edit.tank.clone());
                self.stocks.extend(edit.stock.clone());
                Ok((format!("{what}: {op}"), Some(told)))
            }
            // refused, or not understood: what it speaks of may be gone; or it would have to ask the server first
            Some(1..=4) => {
                Ok((format!("{what}: no ({})", ran.stderr.lines().last().unwrap_or_default()), None))
            }
            _ => Err(format!("a command fell over: {ran}")),
        }
    }

    /// The same, and someone pulls the plug; what was not acknowledged may be there or not.
    pub fn write_killed(&mut self, world: &World, edit: &Edit, after_us: u64) -> Result<String, String> {
        self.set_clock(world);
        let arguments: Vec<&str> = edit.arguments.iter().map(String::as_str).collect();
        let mut child = self.keeper.spawn(&arguments);
        // no outcome is waited for: this picks the moment
        std::thread::sleep(Duration::from_micros(after_us));
        process::kill(&mut child);
        Ok(format!("{}: killed", edit.arguments.join(" ")))
    }

    pub fn sync(&mut self, world: &World, how: Sync) -> Result<String, String> {
        self.set_clock(world);
        if let Some(crash) = world.crash_due() {
            self.proxy.arm(0, of_ops, Fault::Call(Moment::Forwarded, crash));
            let said = self.run_sync(None)?;
            if self.proxy.disarm() {
                return Ok(format!("{said} (the crash did not come)"));
            }
            return Ok(format!("{said} (the server was killed)"));
        }
        let (after, fault, pid) = match how {
            Sync::Well => return self.run_sync(None),
            Sync::RequestLost(after) => (after, Fault::RequestLost, None),
            Sync::AnswerLost(after) => (after, Fault::AnswerLost, None),
            Sync::Twice(after) => (after, Fault::Twice, None),
            Sync::Killed(after, moment) => {
                let pid = Arc::new(OnceLock::<u32>::new());
                let whom = pid.clone();
                let kill = move || {
                    drop(process::run(Command::new("kill").args(["-KILL", &whom.wait().to_string()])))
                };
                (after, Fault::Call(moment, Box::new(kill)), Some(pid))
            }
        };
        self.proxy.arm(after, of_ops, fault);
        let said = self.run_sync(pid.as_deref());
        let struck = !self.proxy.disarm();
        Ok(if struck { format!("{} ({how:?})", said?) } else { said? })
    }

    fn run_sync(&mut self, pid: Option<&OnceLock<u32>>) -> Result<String, String> {
        let before = self.written.len();
        let child = self.keeper.spawn(&["sync", "--json"]);
        if let Some(pid) = pid {
            let _ = pid.set(child.id());
        }
        let output = child.wait_with_output().map_err(|e| e.to_string())?;
        let ran = Ran::new("tarn sync --json".into(), output);
        // it also fails if anything was refused that was not before: then it did all the same what it was to do
        let told = serde_json::from_str::<Value>(&ran.stdout).ok().filter(|_| ran.code == Some(1));
        match ran.code {
            Some(0 | 1) if ran.code == Some(0) || told.as_ref().is_some_and(|t| t["newly_refused"] != 0) => {
                let told = ran.json();
                // what the server turned out to have lost is pending again, and goes with the next sync
                if told["pending"] == 0 {
                    self.synced = before;
                }
                let still = ["pushed", "pulled", "newly_refused", "pending"].iter().all(|n| told[*n] == 0);
                if !still {
                    self.learn()?;
                }
                Ok(if still { "sync: done".into() } else { format!("sync: {}", one_line(&told)) })
            }
            // no network: the server is down, or the wire was cut
            Some(3) => Ok("sync: no network".into()),
            Some(4) => {
                let again = self.log_in();
                match again.code {
                    Some(0 | 3) => Ok("sync: logged in again".into()),
                    _ => Err(format!("no way back in: {again}")),
                }
            }
            Some(1) => Ok(format!("sync: failed ({})", ran.stderr.trim().replace('\n', " / "))),
            None if pid.is_some() => Ok("sync: killed".into()),
            _ => Err(format!("a sync fell over: {ran}")),
        }
    }

    /// After a sync the keeper sees what the others have made.
    fn learn(&mut self) -> Result<(), String> {
        let state: Value = serde_json::from_str(&self.state()?).map_err(|e| e.to_string())?;
        for (kind, into) in [("tank", &mut self.tanks), ("stock", &mut self.stocks)] {
            let all = state[kind].as_object().into_iter().flatten();
            *into = all.filter_map(|(_, thing)| thing["name"].as_str().map(str::to_owned)).collect();
            into.sort_unstable();
        }
        self.seen = state;
        Ok(())
    }

    /// What the server refused or what waits, with why.
    pub fn refused(&self) -> Result<Vec<Value>, String> {
        let ran = self.keeper.run(&["sync", "refused", "--json"]);
        let all = (ran.code == Some(0)).then(|| ran.json().as_array().cloned()).flatten();
        all.ok_or_else(|| format!("no list of refused entries: {ran}"))
    }

    /// The keeper gives one of those up.
    pub fn drop_refused(&self, id: &str) -> Result<(), String> {
        let ran = self.keeper.run(&["sync", "drop", id]);
        if ran.code == Some(0) { Ok(()) } else { Err(format!("not dropped: {ran}")) }
    }

    /// The whole state, byte by byte.
    pub fn state(&self) -> Result<String, String> {
        let ran = self.keeper.run(&["state", "--json"]);
        match ran.code {
            Some(0) => Ok(ran.stdout.trim_end_matches('\n').to_owned()),
            _ => Err(format!("no state: {ran}")),
        }
    }

    /// A form on the room's pages, in the name of the device's owner.
    pub fn edit_on_page(&mut self, stream: &str, rng: &mut StdRng) -> String {
        match page::edit(&mut self.visitor, &self.owner.login, stream, rng) {
            Ok(said) => format!("page: {said}"),
            Err(why) => format!("page: no ({why})"),
        }
    }

    /// The keeper has the words of the last feeding blanked; which entry that is, if the device saw it done.
    pub fn redact(&mut self, world: &World) -> Result<(String, Option<String>), String> {
        let fed = self.written[..self.synced].iter().rfind(|written| written.what.starts_with("food"));
        let Some(op) = fed.map(|written| written.op.clone()) else {
            return Ok(("nothing to blank".into(), None));
        };
        self.set_clock(world);
        let ran = self.keeper.run(&["redact", &op]);
        match ran.code {
            Some(0) => Ok((format!("blanked {op}"), Some(op))),
            Some(1..=4) => {
                Ok((format!("blank {op}: no ({})", ran.stderr.lines().last().unwrap_or_default()), None))
            }
            _ => Err(format!("blanking fell over: {ran}")),
        }
    }

    /// Some push that was taken comes again, out of its order, from a wire that kept it. Also which ops it may bring in
    /// anew. (One that was refused as ahead must not: its ops have other clocks by then, and a copy that is let pass
    /// later, when its clock no longer is ahead, would be the first accepted body of their ids.)
    pub fn replay(&self, rng: &mut StdRng) -> (String, Vec<String>) {
        let kept = self.proxy.kept();
        if kept.is_empty() {
            return ("nothing to send again".into(), Vec::new());
        }
        let at = rng.random_range(0..kept.len());
        let status = self.proxy.replay(&kept[at]);
        let ids = if at < self.stale { ids_of(kept[at].body()) } else { Vec::new() };
        (format!("an old push came again: {status:?}"), ids)
    }
}

fn one_line(value: &Value) -> String {
    value.to_string()
}

/// The ids of a push, which may be compressed.
fn ids_of(body: &[u8]) -> Vec<String> {
    let mut plain = Vec::new();
    let gzipped = body.starts_with(&[0x1f, 0x8b]);
    let read = if gzipped {
        GzDecoder::new(body).read_to_end(&mut plain)
    } else {
        (&mut &*body).read_to_end(&mut plain)
    };
    read.expect("a push can be read again");
    let push: Value = serde_json::from_slice(&plain).expect("a push that was taken is JSON");
    let ops = push["ops"].as_array().into_iter().flatten();
    ops.filter_map(|o| o["op"]["id"].as_str().map(str::to_owned)).collect()
}
