//! The ladder: a module of `domain` or `server` uses only modules of lower rows, and an area of `domain` that the server
//! uses stands no higher than the user. What puts the areas of `domain` together is below all of the server.

use super::Breaches;
use super::source::{self, Source};
use std::collections::HashSet;

/// Areas from high to low; those of one row don't know each other.
const ROWS: [&[&str]; 8] = [
    &["auctions", "awards"],
    &["parcels"],
    &["quarantine", "lineage"],
    &["rooms"],
    &["care"],
    &["clubs"],
    &["accounts"],
    &["streams"],
];

/// The two shelves below all areas; they may know each other.
pub const SHELVES: [&str; 2] = ["platform", "entities"];

/// What stands above all areas and puts them together.
const TOP: [&str; 7] = ["app", "catalogue", "state", "lib", "main", "cli", "demo"];

/// Every area.
pub fn areas() -> impl Iterator<Item = &'static str> {
    ROWS.iter().flat_map(|row| row.iter().copied())
}

/// Height above the ground; `None` is not in the plan.
fn row(module: &str) -> Option<usize> {
    if TOP.contains(&module) {
        return Some(ROWS.len() + 1);
    }
    if SHELVES.contains(&module) {
        return Some(0);
    }
    ROWS.iter().rev().position(|row| row.contains(&module)).map(|height| height + 1)
}

fn may_use(from: &str, to: &str) -> bool {
    let (Some(high), Some(low)) = (row(from), row(to)) else { return false };
    from == to || low < high || (high == low && (TOP.contains(&from) || SHELVES.contains(&from)))
}

/// Each use that goes up or sideways.
pub fn breaches(sources: &[Source]) -> Breaches {
    let mut breaches = Vec::new();
    for source in sources.iter().filter(|s| s.shipped() && ["domain", "server"].contains(&s.package())) {
        let module = source.module();
        let from = module.first().map_or("lib", String::as_str);
        if row(from).is_none() {
            breaches.push(format!("{}: `{from}` is no area of the plan", source.path));
            continue;
        }
        let mut uses = used_of_own_crate(source);
        if source.package() == "server" {
            // what puts the domain together is no area: to the server it is the ground
            let of_an_area = |(head, _): &(String, usize)| !TOP.contains(&head.as_str());
            uses.extend(source.heads_after("tarn_domain").into_iter().filter(of_an_area));
        }
        let mut said = HashSet::new();
        for (to, line) in uses {
            // globs of the root bring in only modules, which then name themselves
            let fine = to == "*" || to == "self" || (row(&to).is_some() && may_use(from, &to));
            if fine || TOP.contains(&from) || !said.insert(to.clone()) {
                continue;
            }
            let what = match row(&to) {
                Some(_) => "which stands no lower in the ladder",
                None => "which names no module: name the area that it is of",
            };
            breaches.push(format!("{}:{line}: {from} uses {to}, {what}", source.path));
        }
    }
    breaches
}

/// What follows `crate::`, and `super::` where it climbs up to the crate's root.
fn used_of_own_crate(source: &Source) -> Vec<(String, usize)> {
    let mut heads = source.heads_after("crate");
    let tokens = &source.tokens;
    let depth_of_file = source.module().len();
    // the depths of braces at which a module within the file began
    let mut inner: Vec<usize> = Vec::new();
    let mut depth = 0;
    let mut at = 0;
    while at < tokens.len() {
        match tokens[at].text.as_str() {
            "{" => {
                depth += 1;
                if at >= 2 && tokens[at - 2].text == "mod" {
                    inner.push(depth);
                }
            }
            "}" => {
                if inner.last() == Some(&depth) {
                    inner.pop();
                }
                depth -= 1;
            }
            "super" => {
                let mut ups = 1;
                while source::is_path(tokens, at + 1) && tokens.get(at + 3).is_some_and(|t| t.text == "super")
                {
                    ups += 1;
                    at += 3;
                }
                if ups == depth_of_file + inner.len() && source::is_path(tokens, at + 1) {
                    source::heads_at(tokens, at + 3, &mut heads);
                }
            }
            _ => {}
        }
        at += 1;
    }
    heads
}
