//! Water: readings as they are typed and kept, how much there is of it, and the arithmetic that is shown beside them.
//! What is kept is whole thousandths, in decimal arithmetic; floating point only for what is shown and never stored.
//! Proposes nothing and promises nothing.

pub mod ammonia;
pub mod chemistry;
pub mod derived;
pub mod dilution;
pub mod geometry;
pub mod hour;
pub mod meaning;
pub mod rate;
mod reading;
pub mod trend;
pub mod volumes;

pub use reading::{NotAReading, kept_in, reading, volume};

/// Thousandths as people write them: 24600 is "24.6".
pub fn thousandths(milli: i64) -> String {
    let sign = if milli < 0 { "−" } else { "" };
    let (whole, part) = (milli.unsigned_abs() / 1000, format!("{:03}", milli.unsigned_abs() % 1000));
    let part = part.trim_end_matches('0');
    let dot = if part.is_empty() { "" } else { "." };
    format!("{sign}{whole}{dot}{part}")
}

/// Thousandths as the number they are; for formulas, whose answers are shown and never stored.
fn whole(milli: i64) -> f64 {
    #[allow(clippy::cast_precision_loss, reason = "a reading has far fewer digits than a float")]
    let size = milli as f64;
    size / 1000.0
}
