//! Writes ops as a client would, so that a test can also write what no client should: a device's id, a clock that
//! rises, bodies as JSON.

use serde_json::{Value, json};
use std::sync::atomic::{AtomicI64, Ordering};
use uuid::Uuid;

/// A fresh id (UUIDv7).
pub fn id() -> String {
    Uuid::now_v7().to_string()
}

/// One device that writes.
#[derive(Debug)]
pub struct Pen {
    /// Its id.
    pub device: String,
    clock_ms: AtomicI64,
}

impl Pen {
    /// A new device, whose clock begins now.
    #[allow(clippy::new_without_default, reason = "there is no default device")]
    pub fn new() -> Self {
        Self { device: id(), clock_ms: AtomicI64::new(now_ms()) }
    }

    /// An op with the next clock.
    pub fn op(&self, body: Value) -> Value {
        let now = self.clock_ms.fetch_add(1, Ordering::Relaxed) + 1;
        self.op_at(now, body)
    }

    /// Its clock goes on by so much before the next op.
    pub fn wait(&self, ms: i64) {
        self.clock_ms.fetch_add(ms, Ordering::Relaxed);
    }

    /// An op with a clock of one's choice.
    pub fn op_at(&self, clock_ms: i64, body: Value) -> Value {
        let clock = clock(clock_ms);
        let at = format!("{}Z", &clock[..19]);
        json!({"id": id(), "device": self.device, "clock": clock, "at": at, "body": body})
    }
}

/// Now, in milliseconds since 1970.
pub fn now_ms() -> i64 {
    chrono::Utc::now().timestamp_millis()
}

/// The text of a clock without a counter.
pub fn clock(ms: i64) -> String {
    let time = chrono::DateTime::from_timestamp_millis(ms).expect("a time within reason");
    format!("{}/0000", time.format("%Y-%m-%dT%H:%M:%S%.3fZ"))
}

/// A push of ops without receipts.
pub fn push(ops: &[Value]) -> Value {
    json!({"ops": ops.iter().map(|op| json!({"op": op})).collect::<Vec<_>>()})
}

/// `tank.added`, for ops that only have to be there.
pub fn tank(name: &str) -> Value {
    json!({"op": "tank.added", "tank": id(), "name": name})
}
