//! What may not be named where: the domain knows no outside world, handlers no database, actions no HTTP, and nobody
//! but one file a crate the ambient clock and chance.

use super::Breaches;
use super::source::Source;

/// A row of words that must not occur in some files.
struct Ban {
    words: &'static [&'static str],
    why: &'static str,
    applies: fn(&Source) -> bool,
}

const PURE: &str = "the domain does no I/O, waits for nothing, and gets time and chance as arguments";
const HANDLERS: &str = "handlers know no database; that is store.rs";
const VERBS: &str = "actions and stores know no HTTP; that is api.rs and pages.rs";
const AMBIENT: &str = "time and chance are handed in; only clock.rs may call them";
const ONE_DOOR: &str = "only remote/ of the client knows HTTP";
const ONE_FILE: &str = "only store/ of the client knows its database";

const BANS: [Ban; 28] = [
    Ban { words: &["tokio"], why: PURE, applies: is_domain },
    Ban { words: &["async"], why: PURE, applies: is_domain },
    Ban { words: &["sea_orm"], why: PURE, applies: is_domain },
    Ban { words: &["actix_web"], why: PURE, applies: is_domain },
    Ban { words: &["rusqlite"], why: PURE, applies: is_domain },
    Ban { words: &["reqwest"], why: PURE, applies: is_domain },
    Ban { words: &["rand"], why: PURE, applies: is_domain },
    Ban { words: &["SystemTime"], why: PURE, applies: is_domain },
    Ban { words: &["Instant"], why: PURE, applies: is_domain },
    Ban { words: &["std", ":", ":", "fs"], why: PURE, applies: is_domain },
    Ban { words: &["std", ":", ":", "net"], why: PURE, applies: is_domain },
    Ban { words: &["std", ":", ":", "env"], why: PURE, applies: is_domain },
    Ban { words: &["std", ":", ":", "process"], why: PURE, applies: is_domain },
    Ban { words: &["std", ":", ":", "thread"], why: PURE, applies: is_domain },
    Ban { words: &["sea_orm"], why: HANDLERS, applies: is_handler },
    Ban { words: &["sea_orm_migration"], why: HANDLERS, applies: is_handler },
    Ban { words: &["actix_web"], why: VERBS, applies: is_verb },
    Ban { words: &["Utc", ":", ":", "now"], why: AMBIENT, applies: is_without_clock },
    Ban { words: &["Local", ":", ":", "now"], why: AMBIENT, applies: is_without_clock },
    Ban { words: &["SystemTime", ":", ":", "now"], why: AMBIENT, applies: is_server_or_client_without_clock },
    Ban { words: &["now_v7"], why: AMBIENT, applies: is_without_clock },
    Ban { words: &["new_v4"], why: AMBIENT, applies: is_without_clock },
    Ban { words: &["rand", ":", ":", "rng"], why: AMBIENT, applies: is_server_or_client_without_clock },
    Ban { words: &["rand", ":", ":", "random"], why: AMBIENT, applies: is_server_or_client_without_clock },
    Ban { words: &["thread_rng"], why: AMBIENT, applies: is_without_clock },
    Ban { words: &["OsRng"], why: AMBIENT, applies: is_without_clock },
    Ban { words: &["reqwest"], why: ONE_DOOR, applies: is_client_beside_remote },
    Ban { words: &["rusqlite"], why: ONE_FILE, applies: is_client_beside_store },
];

/// Each use of something where it must not be.
pub fn breaches(sources: &[Source]) -> Breaches {
    let mut breaches = Vec::new();
    for source in sources.iter().filter(|s| s.shipped()) {
        for ban in BANS.iter().filter(|ban| (ban.applies)(source)) {
            let mut lines = source.lines_of(ban.words);
            if let [module, ":", ":", item] = ban.words {
                // `use std::{fs, io}`
                lines.extend(
                    source.heads_after(module).into_iter().filter(|(head, _)| head == item).map(|(_, l)| l),
                );
            }
            if let Some(line) = lines.first() {
                breaches.push(format!("{}:{line}: {}: {}", source.path, ban.words.concat(), ban.why));
            }
        }
    }
    breaches
}

fn is_domain(source: &Source) -> bool {
    source.package() == "domain"
}

/// Whether a file of the server's areas has one of these names, or lies in a folder of that name.
fn is_part(source: &Source, names: &[&str]) -> bool {
    let part = source.parts().get(3).map(|part| part.trim_end_matches(".rs"));
    source.package() == "server" && part.is_some_and(|part| names.contains(&part))
}

fn is_handler(source: &Source) -> bool {
    is_part(source, &["api", "pages", "views"])
}

fn is_verb(source: &Source) -> bool {
    is_part(source, &["actions", "store", "projector", "decider", "jobs"])
        && !source.path.contains("/platform/")
}

fn is_without_clock(source: &Source) -> bool {
    !["server/src/platform/clock.rs", "client-cli/src/clock.rs"].contains(&source.path.as_str())
}

fn is_server_or_client_without_clock(source: &Source) -> bool {
    !is_domain(source) && is_without_clock(source)
}

fn is_client(source: &Source) -> bool {
    source.package() == "client-cli"
}

fn is_client_beside_remote(source: &Source) -> bool {
    is_client(source) && source.module().first().is_none_or(|module| module != "remote")
}

fn is_client_beside_store(source: &Source) -> bool {
    is_client(source) && source.module().first().is_none_or(|module| module != "store")
}
