//! Ctrl-C and a request to end, for commands that stay: the first is heard, a second one ends the process at once.

use std::thread;

use tokio::runtime::Builder;
use tokio::signal::unix::{SignalKind, signal};

use crate::failure::{Failure, Outcome};

/// What a shell expects of a process that Ctrl-C ended.
const INTERRUPTED: i32 = 130;

/// Tells of it from now on.
///
/// # Errors
/// When the system gives no way to hear of it.
pub fn hear(told: impl FnOnce() + Send + 'static) -> Outcome {
    let failed = |e: std::io::Error| Failure::refused(format!("Ctrl-C can't be heard: {e}"));
    let runtime = Builder::new_current_thread().enable_all().build().map_err(failed)?;
    let (mut asked, mut interrupted) = {
        let _here = runtime.enter();
        (signal(SignalKind::terminate()).map_err(failed)?, signal(SignalKind::interrupt()).map_err(failed)?)
    };
    thread::spawn(move || {
        runtime.block_on(async {
            tokio::select! {
                _ = asked.recv() => {}
                _ = interrupted.recv() => {}
            }
            told();
            tokio::select! {
                _ = asked.recv() => {}
                _ = interrupted.recv() => {}
            }
            std::process::exit(INTERRUPTED);
        });
    });
    Ok(())
}
