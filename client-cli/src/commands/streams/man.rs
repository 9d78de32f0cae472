//! `tarn man`.

use std::fs;
use std::io::{ErrorKind, Write};
use std::path::PathBuf;

use clap::{Args, Command, CommandFactory};
use clap_mangen::roff::{Roff, roman};

use crate::cli::Cli;
use crate::failure::{Failure, Outcome};

/// Writes man pages, one for each command, into a folder; without one, to standard output.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn man ~/.local/share/man/man1\n  tarn man | man -l -")]
pub struct Man {
    /// Where to
    dir: Option<PathBuf>,
}

impl Man {
    /// Runs it.
    pub fn run(self) -> Outcome {
        let pages = pages().map_err(Failure::refused)?;
        let Some(dir) = self.dir else {
            let all: Vec<u8> = pages.into_iter().flat_map(|(_, page)| page).collect();
            return match std::io::stdout().lock().write_all(&all) {
                Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Failure::refused(error)),
                _ => Ok(()),
            };
        };
        let trouble =
            |e: std::io::Error| Failure::refused(format!("{} can't be written: {e}", dir.display()));
        fs::create_dir_all(&dir).map_err(trouble)?;
        for (name, page) in pages {
            fs::write(dir.join(name), page).map_err(trouble)?;
        }
        Ok(())
    }
}

/// The name and text of every page. They are made in memory: the library does not know a closed pipe.
fn pages() -> std::io::Result<Vec<(String, Vec<u8>)>> {
    let mut all = Vec::new();
    let mut root = Cli::command();
    root.build();
    add(&root, &mut all)?;
    Ok(all)
}

fn add(command: &Command, all: &mut Vec<(String, Vec<u8>)>) -> std::io::Result<()> {
    let man = clap_mangen::Man::new(command.clone());
    let mut page = Vec::new();
    man.render_title(&mut page)?;
    man.render_name_section(&mut page)?;
    man.render_synopsis_section(&mut page)?;
    man.render_description_section(&mut page)?;
    if let Some(examples) = command.get_before_help() {
        as_typed("EXAMPLES", &examples.to_string(), &mut page)?;
    }
    man.render_options_section(&mut page)?;
    if command.has_subcommands() {
        man.render_subcommands_section(&mut page)?;
    }
    if let Some(more) = command.get_after_help() {
        as_typed("NOTES", &more.to_string(), &mut page)?;
    }
    all.push((man.get_filename(), page));
    command.get_subcommands().try_for_each(|verb| add(verb, all))
}

/// Lines that stay as they are. A heading of their own is the section's already.
fn as_typed(heading: &str, text: &str, page: &mut Vec<u8>) -> std::io::Result<()> {
    let mut section = Roff::new();
    section.control("SH", [heading]).control("nf", []);
    for line in text.lines().filter(|line| !matches!(*line, "Example:" | "Examples:")) {
        section.text([roman(line)]);
    }
    section.control("fi", []);
    section.to_writer(page)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(command: &Command, all: &mut Vec<String>, path: &str) {
        all.push(format!("{path}.1"));
        for verb in command.get_subcommands() {
            names(verb, all, &format!("{path}-{}", verb.get_name()));
        }
    }

    #[test]
    fn every_command_has_a_page_with_its_examples() {
        let (pages, mut wanted) = (pages().expect("made"), Vec::new());
        names(&Cli::command(), &mut wanted, "tarn");
        assert!(wanted.contains(&"tarn-tank-add.1".to_owned()) && wanted.len() > 100, "{wanted:?}");
        assert_eq!(pages.iter().map(|(name, _)| name.clone()).collect::<Vec<_>>(), wanted);
        let page = |name: &str| {
            let (_, page) = pages.iter().find(|(page, _)| page == name).expect("there");
            String::from_utf8(page.clone()).expect("text")
        };
        assert!(page("tarn-sync.1").contains("tarn sync \\-\\-watch"), "{}", page("tarn-sync.1"));
        assert!(page("tarn-tank-add.1").contains("clock\\-offset"), "what every command takes is there too");
        assert!(page("tarn.1").contains("Exit codes"), "{}", page("tarn.1"));
    }
}
