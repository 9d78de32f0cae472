//! A swap, and the list of them.

use tarn_domain::parcels::NoticeKind;
use tarn_domain::parcels::{SwapSide, SwapState, cautions};
use uuid::Uuid;

use super::{FishRow, GiveForm, Line, ParcelLine, Side, SwapPage, SwapsPage, fish};
use crate::entities::swap_rows;
use crate::parcels::actions::swaps::{ParcelLook, Stage, SwapLook, Swaps, spread_of};
use crate::parcels::actions::threads::ThreadLook;
use crate::platform::Problem;
use crate::platform::day::Wall;
use crate::platform::html::{Field, FormErrors, Link, Page};
use crate::platform::parts::{State, Tone};
use crate::platform::words::Words;

/// A state and its colour.
pub(super) fn state(state: SwapState) -> State {
    let tone = match state {
        SwapState::Proposed => Tone::Ochre,
        SwapState::Agreed => Tone::Water,
        SwapState::Done => Tone::Lichen,
        _ => Tone::Plain,
    };
    State { word: state.as_str(), tone }
}

fn in_short(look: &SwapLook, own: bool) -> String {
    let rows = look.rows.iter().filter(|row| look.is_own(row) == own);
    let mut all: Vec<String> = rows.map(|row| format!("{} {}", spread_of(row), row.species)).collect();
    if all.is_empty() {
        let words =
            if own == (look.side == SwapSide::Proposer) { &look.row.give_words } else { &look.row.ask_words };
        all.extend(words.as_deref().and_then(|words| words.lines().next()).map(str::to_owned));
    }
    if all.is_empty() { "nothing".into() } else { all.join(" and ") }
}

fn line(look: &SwapLook, wall: Wall) -> Line {
    let whose = if look.side == SwapSide::Proposer { "Proposed by you" } else { "Proposed to you" };
    Line {
        href: format!("/swaps/{}", look.row.id),
        name: Words::plain(format!("With {}", look.with)),
        state: Some(state(look.state)),
        sentence: format!("You give {}; you get {}.", in_short(look, true), in_short(look, false)),
        second: format!("{whose} {}", wall.lately(look.row.made_ms.div_euclid(1000))),
    }
}

/// The list.
pub fn list_page(page: Page, found: &Swaps, wall: Wall) -> SwapsPage {
    let waits = |look: &&SwapLook| match look.state {
        SwapState::Proposed => look.side == SwapSide::Other,
        SwapState::Agreed => look.own_parcel().is_some_and(|parcel| parcel.stage == Stage::NotPacked),
        _ => false,
    };
    let lead = match (found.swaps.len(), found.swaps.iter().filter(waits).count()) {
        (0, _) => "You have no swap with anybody.".into(),
        (_, 0) => "Nothing waits for you.".into(),
        (_, 1) => "One waits for you: an answer, or fish to pack.".into(),
        (_, n) => format!("{n} wait for you: an answer, or fish to pack."),
    };
    SwapsPage {
        page,
        lead,
        lines: found.swaps.iter().map(|look| line(look, wall)).collect(),
        older: found
            .next
            .as_ref()
            .map(|next| Link { href: format!("/swaps?after={next}"), words: "Older swaps".into() }),
    }
}

/// What the page of a swap is made of.
pub struct SwapParts<'a> {
    /// The swap.
    pub look: &'a SwapLook,
    /// The two's thread.
    pub thread: &'a ThreadLook,
    /// Who reads.
    pub account: Uuid,
    /// What the reader may give when they agree; none where nothing of one's own is to be named.
    pub give: Vec<GiveForm>,
    /// What has just been done.
    pub done: Option<&'a str>,
    /// What was typed.
    pub typed: &'a str,
    /// What was not done, and why.
    pub problem: Option<(&'static str, &'a Problem)>,
    /// The id of a line that may be written.
    pub id: String,
    /// The reader's clock.
    pub wall: Wall,
}

/// The page of a swap.
pub fn swap_page(page: Page, parts: SwapParts<'_>) -> SwapPage {
    let SwapParts { look, thread, account, give, done, typed, problem, id, wall } = parts;
    let row = &look.row;
    let proposer = look.side == SwapSide::Proposer;
    let said_of = |not: &str| problem.filter(|(of, _)| *of == not).map(|(_, problem)| problem);
    let mut ways = Vec::new();
    let to = |id: Uuid, words: &str| Link { href: format!("/swaps/{id}"), words: words.into() };
    ways.extend(row.answers.map(|id| to(id, "The proposal that it answers")));
    ways.extend(row.answered_by.map(|id| to(id, "The proposal that answers it")));
    let may_answer = look.state == SwapState::Proposed && !proposer;
    if may_answer {
        ways.push(Link { href: format!("/swaps/new?answers={}", row.id), words: "Propose otherwise".into() });
    }
    let lines = &thread.lines[thread.lines.len().saturating_sub(5)..];
    SwapPage {
        page,
        state: state(look.state),
        lead: lead(look, wall),
        said: done.and_then(|done| match done {
            "proposed" => Some("The swap is proposed."),
            "agreed" => Some("You have agreed to the swap."),
            "declined" => Some("You have declined the swap."),
            "withdrawn" => Some("You have withdrawn the swap."),
            _ => None,
        }),
        errors: problem.map(|(not, problem)| FormErrors::of(not, problem)),
        sides: vec![one_side(look, true, wall), one_side(look, false, wall)],
        href: format!("/swaps/{}", row.id),
        ways,
        agree: may_answer.then_some(give),
        withdraw: match look.state {
            SwapState::Proposed if proposer => Some("Withdraw the proposal"),
            SwapState::Agreed => Some("Withdraw from the swap"),
            _ => None,
        },
        cautions: cautions(NoticeKind::ToSwap, true),
        lines: super::thread::spoken(lines, account, &look.with, wall),
        thread: Link { href: format!("/threads/{}", row.thread), words: "The whole thread".into() },
        id,
        text: Field::new("text", "Write").typed(typed, said_of("Not sent")),
    }
}

fn lead(look: &SwapLook, wall: Wall) -> String {
    let (row, with) = (&look.row, &look.with);
    let day = |ms: i64| wall.day(ms.div_euclid(1000));
    let proposer = look.side == SwapSide::Proposer;
    match look.state {
        SwapState::Proposed if proposer => {
            format!("You proposed it to {with}. It is over {} without an answer.", day(row.ends_ms))
        }
        SwapState::Proposed => {
            format!("{with} proposes it to you. It is over {} without an answer.", day(row.ends_ms))
        }
        SwapState::Agreed => {
            format!("You and {with} agreed {}. It is done when all of it has arrived.", day(row.changed_ms))
        }
        SwapState::Done => format!("All of it has arrived. With {with}."),
        SwapState::Declined if row.answered_by.is_some() => "It was answered by another proposal.".into(),
        SwapState::Declined if proposer => format!("{with} declined it {}.", day(row.changed_ms)),
        SwapState::Declined => format!("You declined it {}.", day(row.changed_ms)),
        SwapState::Withdrawn => format!("It was withdrawn {}. With {with}.", day(row.changed_ms)),
        SwapState::Expired => format!("Nobody answered it until {}. With {with}.", day(row.ends_ms)),
    }
}

fn one_side(look: &SwapLook, own: bool, wall: Wall) -> Side {
    let gives = own == (look.side == SwapSide::Proposer);
    let rows = look.rows.iter().filter(|row| look.is_own(row) == own).map(|row| fish_row(row, own));
    let parcel = look.parcels[usize::from(!gives)].as_ref();
    Side {
        anchor: if own { "own" } else { "other" },
        heading: if own { "You give" } else { "You get" },
        rows: rows.collect(),
        words: if gives { look.row.give_words.clone() } else { look.row.ask_words.clone() },
        parcel: parcel.map(|parcel| parcel_line(look, parcel, own, wall)),
    }
}

fn fish_row(row: &swap_rows::Model, own: bool) -> FishRow {
    let stock = row.room.zip(row.stock).filter(|_| own).map(|(room, stock)| Link {
        href: format!("/rooms/{room}/stocks/{stock}"),
        words: "Your stock".into(),
    });
    let notice = row.notice.map(|id| Link { href: format!("/notices/{id}"), words: "The notice".into() });
    FishRow {
        name: fish(&row.species, row.form.as_deref()),
        how_many: spread_of(row).to_string(),
        link: stock.or(notice),
    }
}

fn parcel_line(look: &SwapLook, parcel: &ParcelLook, own: bool, wall: Wall) -> ParcelLine {
    let fish = |n: i64| if n == 1 { "One fish".to_owned() } else { format!("{n}\u{a0}fish") };
    let moment = |at: tarn_domain::streams::At| wall.moment(at.seconds());
    let (word, tone, sentence) = match parcel.stage {
        Stage::NotPacked if own => {
            ("not packed", Tone::Ochre, "Pack your fish for them on your device:".to_owned())
        }
        Stage::NotPacked => ("not packed", Tone::Ochre, format!("{} has not packed yet.", look.with)),
        Stage::Packed => {
            ("packed", Tone::Ochre, format!("{} in the bag. Not handed over yet.", fish(parcel.sent)))
        }
        Stage::OnTheWay(at) => {
            ("on its way", Tone::Water, format!("{}, since {}.", fish(parcel.sent), moment(at)))
        }
        Stage::Arrived(at) if parcel.alive + parcel.dead == parcel.sent && parcel.dead == 0 => {
            ("arrived", Tone::Lichen, format!("{}, {}.", fish(parcel.sent), moment(at)))
        }
        Stage::Arrived(at) => (
            "arrived",
            Tone::Rust,
            format!(
                "{}. Sent {}, arrived {} alive and {} dead. The two of you put right what differs.",
                moment(at),
                parcel.sent,
                parcel.alive,
                parcel.dead
            ),
        ),
    };
    let is_to_pack = own && parcel.stage == Stage::NotPacked && look.state == SwapState::Agreed;
    let seen = if own { parcel.from } else { parcel.became };
    ParcelLine {
        state: State { word, tone },
        sentence,
        command: is_to_pack.then(|| format!("tarn swap pack {}", look.row.id)),
        link: seen.map(|(room, stock)| Link {
            href: format!("/rooms/{room}/stocks/{stock}"),
            words: if own { "Your stock" } else { "What they are here" }.into(),
        }),
    }
}
