//! `tarn completions`.

use std::io::{ErrorKind, Write};

use clap::{Args, CommandFactory};
use clap_complete::{Shell, generate};

use crate::cli::Cli;
use crate::failure::{Failure, Outcome};

/// Writes completions for a shell to standard output.
#[derive(Debug, Args)]
#[command(
    before_help = "Example:\n  tarn completions bash > ~/.local/share/bash-completion/completions/tarn"
)]
pub struct Completions {
    /// Which shell
    shell: Shell,
}

impl Completions {
    /// Runs it.
    pub fn run(self) -> Outcome {
        let mut text = Vec::new();
        generate(self.shell, &mut Cli::command(), "tarn", &mut text);
        match std::io::stdout().lock().write_all(&text) {
            Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Failure::refused(error)),
            _ => Ok(()),
        }
    }
}
