//! Files: their names, their first words, their length.

use super::Breaches;
use super::ladder;
use super::source::Source;

/// What an area of the server consists of; each may be a folder of this name, split by verb.
const FILES_OF_AN_AREA: [&str; 11] =
    ["mod", "api", "pages", "actions", "store", "jobs", "mail", "refusals", "views", "projector", "decider"];

/// Names that say nothing about what is inside.
const EMPTY_WORDS: [&str; 9] =
    ["utils", "util", "helpers", "helper", "common", "manager", "managers", "misc", "shared"];

const MOST_LINES: usize = 400;

/// Longer files, each with why it can't be split by verb.
const LONG: [(&str, &str); 0] = [];

/// Each file that is not as planned.
pub fn breaches(sources: &[Source]) -> Breaches {
    let mut breaches = Vec::new();
    for source in sources {
        let path = &source.path;
        let mut say = |what: String| breaches.push(format!("{path}: {what}"));
        match first_words(&source.text) {
            None => say("does not begin with `//!` and what it is for".into()),
            Some(words) if is_table(path) && !names_an_owner(words) => {
                say("its first line does not say which area owns it".into());
            }
            Some(_) => {}
        }
        if !is_of_an_area(source) {
            say(format!(
                "not a file of an area ({}, or a folder of one of these)",
                FILES_OF_AN_AREA.join(" ")
            ));
        }
        for word in EMPTY_WORDS {
            let in_path = source.parts().iter().skip(1).any(|part| part.trim_end_matches(".rs") == word);
            if in_path || !source.lines_of(&["mod", word, "{"]).is_empty() {
                say(format!("`{word}` says nothing about what is inside"));
            }
        }
        let lines = source.text.lines().count();
        let may_be_long = LONG.iter().any(|(long, _)| long == path);
        if lines > MOST_LINES && !may_be_long {
            say(format!("{lines} lines; split it by verb, at most {MOST_LINES}"));
        }
        if lines <= MOST_LINES && may_be_long {
            say("no longer long: take it off the list".into());
        }
    }
    breaches
}

/// The first `//!`, which only attributes of the crate and plain comments on them may precede.
fn first_words(text: &str) -> Option<&str> {
    let first = text.lines().find(|line| {
        let line = line.trim();
        !(line.is_empty() || line.starts_with("#![") || (line.starts_with("//") && !line.starts_with("//!")))
    })?;
    let words = first.trim().strip_prefix("//!")?.trim();
    (!words.is_empty()).then_some(words)
}

fn is_table(path: &str) -> bool {
    path.strip_prefix("server/src/entities/").is_some_and(|file| file != "mod.rs")
}

fn names_an_owner(words: &str) -> bool {
    let mut owners = ladder::areas().chain(ladder::SHELVES);
    owners.any(|owner| words.split(|c: char| !c.is_alphanumeric() && c != '_').any(|word| word == owner))
}

/// Anything else than an area of the server passes.
fn is_of_an_area(source: &Source) -> bool {
    let parts = source.parts();
    let ["server", "src", area, first, ..] = parts.as_slice() else { return true };
    !ladder::areas().any(|a| a == *area) || FILES_OF_AN_AREA.contains(&first.trim_end_matches(".rs"))
}
