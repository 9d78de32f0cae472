//! What can be done with a stream: append, push, pull, register a device. One function per verb.

mod append;
pub mod areas;
mod check;
mod counted;
mod export;
mod follow;
mod hand_over;
mod intake;
mod judge;
mod list;
pub mod live;
mod path;
mod projections;
mod pull;
mod push;
mod quota;
pub mod rebuild;
mod redact;
mod register;
mod remove;
mod restored;
mod writing;

pub use append::{Accepted, Appended, Incoming, Outcome, append, in_write, touch_up};
pub use check::{Checked, check};
pub use counted::{readings, to_rebuild};
pub use export::{Export, export};
pub use hand_over::{Adopted, Handed, adopt, vouch};
pub use list::{Listed, list, may};
pub use path::Path;
pub use pull::{Pull, pull};
pub use push::push;
pub use redact::{Blanked, redact};
pub use register::{Registered, register};
pub use remove::remove;
pub use restored::begin_new_epochs;
