//! A notice, and lists of them.

use tarn_domain::parcels::{NoticeKind, cautions};

use super::{Line, NoticePage, NoticesPage, fact, fish, for_what, hands, numbers};
use crate::entities::notices::Model;
use crate::parcels::actions::notices::{Board, NoticeLook, Search, TAKEN_DOWN, kind_of, spread_of};
use crate::parcels::actions::threads::Begun;
use crate::platform::Problem;
use crate::platform::day::Wall;
use crate::platform::html::{Field, FormErrors, Link, Page, encoded};
use crate::platform::parts::{Choice, State, Tone};

/// How a notice stands, in a word.
fn state(look: &NoticeLook) -> State {
    let (word, tone) = match look.state.as_str() {
        "open" if look.not_now.is_some() => ("not shown", Tone::Rust),
        "open" => (kind_of(&look.row).words(), Tone::Water),
        "done" => ("done", Tone::Lichen),
        "ended" => ("ended", Tone::Ochre),
        _ => ("taken down", Tone::Plain),
    };
    State { word, tone }
}

fn line(look: &NoticeLook, wall: Wall, mine: bool) -> Line {
    let row = &look.row;
    let state = (mine && !look.stands()).then(|| state(look));
    let mut parts: Vec<String> = vec![kind_of(row).words().into()];
    parts.extend(for_what(look.price().as_ref(), row.exchange.as_deref()));
    parts.extend(numbers(&spread_of(row)));
    parts.push(format!("{}, {}", row.area, hands(row.pickup, row.posting)));
    let mut sentence = parts.join("; ");
    if let Some(first) = sentence.get(..1).map(str::to_uppercase) {
        sentence.replace_range(..1, &first);
    }
    let since = wall.day(row.made_ms.div_euclid(1000));
    let second = match mine {
        true => format!("{}, put up {since}, ends {}", look.club, wall.day(row.ends_ms.div_euclid(1000))),
        false => format!("{}, {}, {since}", look.author, look.club),
    };
    Line {
        href: format!("/notices/{}", row.id),
        name: fish(&row.species, row.form.as_deref()),
        state,
        sentence,
        second,
    }
}

/// What was asked of the list.
pub struct Found<'a> {
    /// What was looked for.
    pub search: &'a Search,
    /// What was found.
    pub board: Board,
    /// Whether it goes on from somewhere.
    pub later: bool,
    /// The clubs whose boards the reader may name.
    pub clubs: Vec<(String, String)>,
}

/// The list.
pub fn list_page(page: Page, found: Found<'_>, wall: Wall) -> NoticesPage {
    let Found { search, board, later, clubs } = found;
    let n = board.notices.len();
    let asks = !search.words.trim().is_empty() || search.kind.is_some() || search.club.is_some();
    let lead = match (search.mine, n) {
        (true, 0) => "You have put up no notice yet.".into(),
        (true, _) => "What you have put up, and how it stands.".into(),
        (false, 0) if asks => "Nothing on the boards fits.".into(),
        (false, 0) => "Nothing is on the boards of your clubs.".into(),
        (false, _) => {
            "What members of your clubs offer and look for. Only fish that may leave their room are shown."
                .into()
        }
    };
    let mut ways = Vec::new();
    if !clubs.is_empty() {
        ways.push(Link { href: "/notices/new".into(), words: "Put up a notice".into() });
    }
    ways.push(match search.mine {
        true => Link { href: "/notices".into(), words: "All notices".into() },
        false => Link { href: "/notices?mine=true".into(), words: "Your own notices".into() },
    });
    ways.push(Link { href: "/threads".into(), words: "Replies".into() });
    let optional = |mut choice: Choice| {
        choice.required = false;
        choice
    };
    let kinds = NoticeKind::ALL.map(|kind| (kind.as_str().to_owned(), kind.words().to_owned()));
    let mut words = Field::new("q", "Words").typed(search.words.as_str(), None);
    words.required = false;
    let club = search.club.map(|club| club.to_string()).unwrap_or_default();
    let older = board.next.as_ref().map(|next| Link {
        href: format!(
            "/notices?after={next}&mine={}&q={}&kind={}&club={club}",
            search.mine,
            encoded(&search.words),
            search.kind.map_or("", NoticeKind::as_str)
        ),
        words: "Older notices".into(),
    });
    NoticesPage {
        page,
        lead,
        ways,
        words,
        kind: optional(
            Choice::of("kind", "Kind", kinds).typed(search.kind.map_or("", NoticeKind::as_str), None),
        ),
        club: (clubs.len() > 1).then(|| optional(Choice::of("club", "Board", clubs).typed(&club, None))),
        mine: search.mine,
        heading: match (later, search.mine) {
            (true, _) => "Older notices",
            (false, true) => "Your notices",
            (false, false) => "On the boards",
        },
        lines: board.notices.iter().map(|look| line(look, wall, search.mine)).collect(),
        none: if asks { "No notice has these words." } else { "No notice yet." },
        older,
    }
}

/// What the page of a notice is made of.
pub struct NoticeParts<'a> {
    /// The notice.
    pub look: &'a NoticeLook,
    /// The reader's threads about it.
    pub threads: &'a [Begun],
    /// Whether the reader may take it down as an officer.
    pub officer: bool,
    /// What has just been done.
    pub done: Option<&'a str>,
    /// What was typed, and what is wrong with it.
    pub typed: &'a str,
    /// Which form it came from.
    pub problem: Option<(&'static str, &'a Problem)>,
    /// The id of a line that may be written.
    pub id: String,
    /// The reader's clock.
    pub wall: Wall,
}

/// The page of a notice.
pub fn notice_page(page: impl Fn(String) -> Page, parts: NoticeParts<'_>) -> NoticePage {
    let NoticeParts { look, threads, officer, done, typed, problem, id, wall } = parts;
    let (row, mine) = (&look.row, look.mine);
    let heading = fish(&row.species, row.form.as_deref());
    let day = |ms: i64| wall.day(ms.div_euclid(1000));
    let lead = match look.state.as_str() {
        "open" if mine => format!("Put up {}. It ends {} by itself.", day(row.made_ms), day(row.ends_ms)),
        "open" => format!("{}, {}. Put up {}.", look.author, look.club, day(row.made_ms)),
        "ended" => format!("It ended {}. Nobody else sees it.", day(row.ends_ms)),
        "done" => "You marked it as done. Nobody else sees it.".into(),
        _ => match &row.why {
            Some(why) => format!("An officer of the club took it down: {why}"),
            None => "You took it down. Nobody else sees it.".into(),
        },
    };
    let wrong = |form: &str| problem.filter(|(of, _)| *of == form).map(|(_, problem)| problem);
    let reply = (!mine && threads.is_empty()).then(|| {
        let field = Field::new("text", "Your reply")
            .hint(format!(
                "It goes to {} through the server. Both of you read shown names only.",
                look.author
            ))
            .typed(typed, wrong("reply"));
        (id, field)
    });
    let errors = problem.map(|(form, problem)| {
        FormErrors::of(if form == "reply" { "Not sent" } else { "Not done" }, problem)
    });
    NoticePage {
        page: page(heading.text()),
        heading,
        state: state(look),
        lead,
        said: done.and_then(|done| match done {
            "posted" => Some("The notice stands."),
            "changed" => Some("The notice is changed."),
            "again" => Some("The notice stands again."),
            "ended" => Some("The notice is off the board."),
            _ => None,
        }),
        errors,
        not_shown: look
            .not_now
            .as_ref()
            .filter(|_| look.state == "open")
            .map(|why| format!("Not shown to others while {}.", why.sentence())),
        facts: facts(look),
        remarks: row.remarks.clone(),
        cautions: cautions(kind_of(row), row.posting),
        href: format!("/notices/{}", row.id),
        mine,
        is_open: look.state == "open",
        may_again: mine && look.state != "open" && !(row.state == TAKEN_DOWN && row.why.is_some()),
        offers: row.room.zip(row.stock).filter(|_| mine).map(|(room, stock)| Link {
            href: format!("/rooms/{room}/stocks/{stock}"),
            words: "The stock it offers".into(),
        }),
        threads: threads.iter().map(|begun| super::thread::line(begun, wall)).collect(),
        reply,
        officer: (officer && !mine).then(|| {
            Field::new("why", "Why you take it down").hint("The author reads it.").typed("", wrong("end"))
        }),
    }
}

fn facts(look: &NoticeLook) -> Vec<crate::platform::parts::Fact> {
    let row: &Model = &look.row;
    let kind = kind_of(row);
    let mut all = vec![fact("Kind", kind.words())];
    all.extend(numbers(&spread_of(row)).map(|n| fact("How many", n)));
    let paid = if kind == NoticeKind::Wanted { "Would pay or give" } else { "For" };
    all.extend(for_what(look.price().as_ref(), row.exchange.as_deref()).map(|what| fact(paid, what)));
    all.push(fact("Area", row.area.as_str()));
    all.push(fact("Change hands", hands(row.pickup, row.posting)));
    all.push(fact("From", format!("{}, {}", look.author, look.club)));
    if look.mine {
        let who = if row.all_clubs { "members of all clubs here" } else { "members of this club" };
        all.push(fact("Who sees it", who));
    }
    all
}
