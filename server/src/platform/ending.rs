//! Whether this process is about to end. An answer that has no end of its own must listen here: a graceful stop waits
//! for every answer.

use tokio::sync::watch;

/// Says so once, to everybody who listens.
#[derive(Debug, Default)]
pub struct Ending(watch::Sender<bool>);

impl Ending {
    /// It is.
    pub fn begin(&self) {
        self.0.send_replace(true);
    }

    /// To hear of it; also when it had begun before.
    pub fn listen(&self) -> watch::Receiver<bool> {
        self.0.subscribe()
    }
}
