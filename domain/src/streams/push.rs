//! The limits of a push and a pull. Must not know what ops mean.

use super::{Clock, Received};

/// The most ops of one push.
pub const LARGEST_PUSH_OPS: usize = 1_000;
/// The most bytes of one push, after decompression.
pub const LARGEST_PUSH_BYTES: usize = 4 * 1024 * 1024;
/// The most ops of one pull.
pub const LARGEST_PULL: u64 = 10_000;
/// How far a device's clock may run ahead of the server's wall clock.
pub const AHEAD_LIMIT_MS: i64 = 5 * 60_000;

/// The greatest clock that a new op may carry: five minutes past the server's wall clock, or one second past the
/// greatest clock the stream has accepted, whichever is later.
pub fn clock_limit(now_ms: i64, greatest: Clock) -> Clock {
    Clock::at_ms((now_ms + AHEAD_LIMIT_MS).max(greatest.ms() + 1_000))
}

/// When a push is received: now, but always later than the push before it.
pub fn next_received(now_ms: i64, last: Received) -> Received {
    Received(now_ms.max(last.0 + 1))
}
