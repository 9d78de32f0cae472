//! Stock lists that keepers publish: needs a network.

mod all;
mod show;

use serde_json::Value;

use crate::failure::{Failure, Outcome};
use crate::remote::Remote;

pub use show::how_many;

crate::commands::verbs! {
    /// `tarn list …`
    List {
        /// The lists that you may read
        All(all::All),
        /// One list: the fish that may leave
        Show(show::Show),
    }
}

/// Every list that may be read.
fn readable(remote: &mut Remote) -> Outcome<Vec<Value>> {
    let mut all = Vec::new();
    let mut path = "lists".to_owned();
    loop {
        let answer = remote.get(&path)?;
        all.extend(answer["lists"].as_array().cloned().unwrap_or_default());
        match answer["next"].as_str() {
            Some(next) => path = format!("lists?after={next}"),
            None => return Ok(all),
        }
    }
}

/// The one list that is meant, by whose it is or the id of its room, or the beginning of either.
fn one(lists: Vec<Value>, typed: &str) -> Outcome<Value> {
    let lower = typed.trim().to_lowercase();
    let begins = |list: &Value, field: &str| {
        list[field].as_str().is_some_and(|text| text.to_lowercase().starts_with(&lower))
    };
    let mut found: Vec<Value> =
        lists.into_iter().filter(|list| begins(list, "who") || begins(list, "room")).collect();
    match (found.pop(), found.len()) {
        (Some(list), 0) => Ok(list),
        (None, _) => Err(Failure::wrong_use("there is no such list for you").hint("tarn list all")),
        _ => {
            Err(Failure::wrong_use("several lists may be meant: use the id of the room")
                .hint("tarn list all"))
        }
    }
}
