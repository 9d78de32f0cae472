//! Notices on the boards of one's clubs: needs a network.

mod again;
mod end;
mod list;
mod post;
mod reply;
mod show;

use super::online::find;
use crate::failure::Outcome;
use crate::remote::Remote;

crate::commands::verbs! {
    /// `tarn notice …`
    Notice {
        /// What members of your clubs offer and look for
        List(list::List),
        /// One notice, or what two of you write about it
        Show(show::Show),
        /// Put up a notice
        Post(post::Post),
        /// Reply to a notice, or answer in a thread
        Reply(reply::Reply),
        /// End a notice of yours
        End(end::End),
        /// Put a notice of yours up again
        Again(again::Again),
    }
}

/// What an id names.
enum Named {
    /// A notice.
    Notice(String),
    /// What two write to each other.
    Thread(String),
}

/// The notice or the thread that is meant.
fn named(remote: &mut Remote, typed: &str) -> Outcome<Named> {
    let lists = [
        ("notices?mine=true", "notices", "id"),
        ("notices", "notices", "id"),
        ("threads", "threads", "thread"),
    ];
    let (which, id) = find(remote, "notice", typed, &lists)?;
    Ok(if which == "threads" { Named::Thread(id) } else { Named::Notice(id) })
}

/// A notice of one's own.
fn own(remote: &mut Remote, typed: &str) -> Outcome<String> {
    find(remote, "notice", typed, &[("notices?mine=true", "notices", "id")]).map(|(_, id)| id)
}
