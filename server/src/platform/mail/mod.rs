//! Mail: plain text, headers by the library, never sent inside a request.
//!
//! ```text
//! mail::queue(w, Letter { … }).await?      // a row in the transaction that wants it sent
//! mail::run(ctx, stop)                     // sends what waits, beside everything else
//! ```
//! What is written, and to whom, is the areas' to say. No secret stands in a letter but a single-use link.

mod outbox;
mod post;
mod settings;

pub use outbox::{Letter, forget, queue};
pub use post::{Post, Round, run, send_waiting};
pub use settings::MailSettings;
