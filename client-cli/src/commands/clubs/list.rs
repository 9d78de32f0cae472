//! `tarn club list`: the account with its clubs, as the server has them.

use clap::Args;
use serde_json::Value;

use crate::failure::{Failure, Outcome};
use crate::remote::Remote;
use crate::sync::session;
use crate::tarn::Tarn;

/// Shows your account, clubs and roles.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn club list")]
pub struct List {}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let account = session::open(tarn)?.get("account")?;
        if tarn.out.is_json() {
            return tarn.out.data(&account);
        }
        let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
        let rows = clubs(&account).into_iter().map(|club| {
            let roles: Vec<String> = club["roles"].as_array().into_iter().flatten().map(&text).collect();
            vec![text(&club["name"]), roles.join(", "), text(&club["id"])]
        });
        tarn.out.table(&["club", "roles", "id"], rows.collect())
    }
}

fn clubs(account: &Value) -> Vec<Value> {
    account["clubs"].as_array().cloned().unwrap_or_default()
}

/// The id of a club by its name or the beginning of it; the only one if nothing was typed.
pub fn club_id(remote: &mut Remote, typed: Option<&str>) -> Outcome<String> {
    let account = remote.get("account")?;
    let all = clubs(&account);
    let lower = typed.unwrap_or_default().trim().to_lowercase();
    let named = |club: &&Value| {
        let begins = |field: &str| club[field].as_str().is_some_and(|t| t.to_lowercase().starts_with(&lower));
        begins("name") || begins("id")
    };
    let found: Vec<&Value> = all.iter().filter(named).collect();
    match found[..] {
        [one] => Ok(one["id"].as_str().unwrap_or_default().to_owned()),
        [] => Err(Failure::wrong_use("you are in no such club").hint("tarn club list")),
        _ => Err(Failure::wrong_use("several of your clubs may be meant").hint("tarn club list")),
    }
}
