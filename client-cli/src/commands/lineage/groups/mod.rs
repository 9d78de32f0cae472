//! Line groups: keepers who keep one line together. Needs a network.

mod invite;
mod join;
mod leave;
mod list;
mod show;
mod start;

use serde_json::Value;

use crate::failure::{Failure, Outcome};
use crate::remote::Remote;

crate::commands::verbs! {
    /// `tarn line …`
    Line {
        /// Keepers who keep one line together
        #[command(subcommand)]
        Group(Group),
    }
}
crate::commands::verbs! {
    /// `tarn line group …`
    Group {
        /// Your groups, and those you are asked into
        List(list::List),
        /// Who keeps what of a line
        Show(show::Show),
        /// Begin a group
        Start(start::Start),
        /// Ask a keeper in
        Invite(invite::Invite),
        /// Agree, when you were asked
        Join(join::Join),
        /// Leave, or say no
        Leave(leave::Leave),
    }
}

/// The caller's groups.
fn groups(remote: &mut Remote) -> Outcome<Vec<Value>> {
    Ok(remote.get("line-groups")?["groups"].as_array().cloned().unwrap_or_default())
}

/// The one that is meant, by its line, species or id, or the beginning of one; the only one if nothing was typed.
fn one(remote: &mut Remote, typed: Option<&str>) -> Outcome<Value> {
    let lower = typed.unwrap_or_default().trim().to_lowercase();
    let begins = |group: &Value| {
        let field = |name: &str| group[name].as_str().is_some_and(|t| t.to_lowercase().starts_with(&lower));
        field("line") || field("species") || field("id")
    };
    let mut found: Vec<Value> = groups(remote)?.into_iter().filter(begins).collect();
    match (found.pop(), found.len()) {
        (Some(group), 0) => Ok(group),
        (None, _) => Err(Failure::wrong_use("you are in no such line group").hint("tarn line group list")),
        _ => Err(Failure::wrong_use("several of your line groups may be meant").hint("tarn line group list")),
    }
}

fn text(value: &Value, field: &str) -> String {
    value[field].as_str().unwrap_or_default().to_owned()
}

/// "Poecilia wingei, line Campo".
fn name(group: &Value) -> String {
    format!("{}, line {}", text(group, "species"), text(group, "line"))
}

fn names(value: &Value) -> String {
    let names: Vec<&str> = value.as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    names.join(", ")
}
