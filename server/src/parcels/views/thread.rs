//! A thread, and the list of them.

use uuid::Uuid;

use super::{Line, Spoken, ThreadPage, ThreadsPage};
use crate::entities::thread_lines::Model;
use crate::parcels::actions::swaps::state_at;
use crate::parcels::actions::threads::{Begins, Begun, ThreadLook};
use crate::platform::Problem;
use crate::platform::day::Wall;
use crate::platform::html::{Field, FormErrors, Link, Page};
use crate::platform::words::Words;

/// A thread in a list.
pub(super) fn line(begun: &Begun, wall: Wall) -> Line {
    let row = &begun.row;
    Line {
        href: format!("/threads/{}", row.id),
        name: Words::plain(format!("With {}", begun.with)),
        state: None,
        sentence: about(row.about.as_deref()),
        second: format!("Last written {}", wall.brief(row.last_ms.div_euclid(1000))),
    }
}

fn about(about: Option<&str>) -> String {
    about.map_or_else(|| "About a swap".into(), |about| format!("About a notice: {about}"))
}

/// The list.
pub fn list_page(page: Page, found: &Begins, wall: Wall) -> ThreadsPage {
    ThreadsPage {
        page,
        lead: match found.threads.len() {
            0 => "Nobody has written to you about a notice or a swap, nor you to anybody.".into(),
            _ => "What you and others write about notices and swaps. Nobody sees your address.".into(),
        },
        lines: found.threads.iter().map(|begun| line(begun, wall)).collect(),
        older: found
            .next
            .as_ref()
            .map(|next| Link { href: format!("/threads?after={next}"), words: "Older threads".into() }),
    }
}

/// Lines as they are read.
pub(super) fn spoken(lines: &[Model], account: Uuid, with: &str, wall: Wall) -> Vec<Spoken> {
    let one = |line: &Model| Spoken {
        anchor: format!("l-{}", line.id),
        by: if line.author == account { "You".into() } else { with.to_owned() },
        when: wall.brief(line.made_ms.div_euclid(1000)),
        text: line.text.clone(),
    };
    lines.iter().map(one).collect()
}

/// What the page of a thread is made of.
pub struct ThreadParts<'a> {
    /// The thread.
    pub look: &'a ThreadLook,
    /// Who reads.
    pub account: Uuid,
    /// What was typed.
    pub typed: &'a str,
    /// What is wrong with it.
    pub problem: Option<&'a Problem>,
    /// The id of a line that may be written.
    pub id: String,
    /// The reader's clock.
    pub wall: Wall,
}

/// The page of a thread.
pub fn thread_page(page: Page, parts: ThreadParts<'_>) -> ThreadPage {
    let ThreadParts { look, account, typed, problem, id, wall } = parts;
    let href = format!("/threads/{}", look.row.id);
    let mut ways = Vec::new();
    ways.extend(
        look.notice.map(|notice| Link { href: format!("/notices/{notice}"), words: "The notice".into() }),
    );
    ways.push(Link { href: format!("/swaps/new?thread={}", look.row.id), words: "Propose a swap".into() });
    let gone = look.row.notice.is_some() && look.notice.is_none();
    let swaps = look.swaps.iter().map(|swap| {
        let state = state_at(swap, wall.now_s() * 1000);
        Line {
            href: format!("/swaps/{}", swap.id),
            name: Words::plain(if swap.proposer == account {
                "Proposed by you".to_owned()
            } else {
                format!("Proposed by {}", look.with)
            }),
            state: Some(super::swap::state(state)),
            sentence: String::new(),
            second: wall.day(swap.made_ms.div_euclid(1000)),
        }
    });
    ThreadPage {
        page,
        lead: format!(
            "{}.{} Both of you read shown names only; the server passes on what you write.",
            about(look.row.about.as_deref()),
            if gone { " It is not on the board now." } else { "" }
        ),
        errors: problem.map(|problem| FormErrors::of("Not sent", problem)),
        ways,
        swaps: swaps.collect(),
        lines: spoken(&look.lines, account, &look.with, wall),
        older: look
            .older
            .as_ref()
            .map(|older| Link { href: format!("{href}?before={older}"), words: "Older lines".into() }),
        href,
        id,
        text: Field::new("text", "Write").typed(typed, problem),
    }
}
