//! The page that says what stands after a signature.

use tarn_domain::quarantine::{Seen, Waiver};

use super::lines::name;
use super::people::and;
use super::{LetPass, SignedPage};
use crate::platform::html::{Link, Page};
use crate::platform::parts::{Fact, State, Told};
use crate::platform::words::{RunKind, Words};
use crate::quarantine::actions::SignedLook;
use crate::rooms::views::{Beside, Names, Teller};

/// Who signed, and for whom.
pub struct Signers<'a> {
    /// The steward.
    pub by: &'a str,
    /// For which club.
    pub club: &'a str,
    /// Of which other club they are.
    pub of_club: Option<&'a str>,
    /// Clubs that have to sign, too, before the fish are free.
    pub missing: &'a [String],
}

/// What stands after the signature.
pub fn signed_page(
    page: impl FnOnce(String) -> Page,
    of: &SignedLook,
    signers: &Signers<'_>,
    next: Link,
) -> SignedPage {
    let (wall, says) = (of.look.wall, &of.signed.says);
    let states = of.look.states();
    let names = Names { states: &states, beside: Beside::default() };
    let fact = |name: &str, value: Words| Fact { name: name.into(), value };
    let as_what = match signers.of_club {
        Some(other) => format!(
            "{}, health steward of {other}, for {}, which had none who was free",
            signers.by, signers.club
        ),
        None => format!("{}, health steward of {}", signers.by, signers.club),
    };
    let mut facts = vec![
        fact("Signed by", Words::plain(as_what)),
        fact("On", Words::plain(wall.moment(of.signed.at.seconds()))),
    ];
    let seen = Seen::ALL.iter().find(|(seen, ..)| *seen == says.seen).map_or("", |(_, _, words)| words);
    facts.push(fact("Fish seen", Words::plain(seen)));
    for stock in &says.members {
        facts.push(fact("Cleared", names.stock(*stock)));
    }
    for rule in says.rules.iter().filter(|rule| rule.version > 0) {
        facts.push(fact("By the rule", Words::plain(format!("version {}", rule.version))));
    }
    if let Some(remark) = &says.remark {
        facts.push(fact("Remark", Words::plain(remark.clone())));
    }
    let is_recalled = of.look.quarantine.recalled.contains_key(&of.signed.op);
    let (state, lead) = match (is_recalled, signers.missing) {
        (true, _) => (
            "recalled",
            "This signature was recalled: what came in later speaks against it. It counts as never given, and nothing \
             of the unit may leave."
                .to_owned(),
        ),
        (false, []) => (
            "cleared",
            "These fish may leave, and the water they are in is free. The keeper sees it now.".to_owned(),
        ),
        (false, missing) => (
            "waits",
            format!(
                "This signature stands. A steward of {} has to sign, too; until then nothing of it may leave.",
                and(missing.iter().cloned())
            ),
        ),
    };
    let heading = Words::plain("Signed: ").then(name(&states, &says.members, of.signed.at));
    SignedPage {
        page: page(heading.text()),
        heading,
        state: State::of(state),
        lead: Words::plain(lead),
        standing: of.words.clone(),
        waivers: let_pass(&says.waivers, of, names),
        facts,
        next,
        printed: format!("{} {}.", of.look.room.name, wall.moment(wall.now_s())),
    }
}

/// What was let pass, and why: what one reason lets pass of one kind is told together.
fn let_pass(waivers: &[Waiver], of: &SignedLook, names: Names<'_>) -> Vec<LetPass> {
    let mut all: Vec<(&Waiver, Vec<&Waiver>)> = Vec::new();
    for waiver in waivers {
        let same = |(first, _): &&mut (&Waiver, _)| {
            (first.blocker, first.why.trim()) == (waiver.blocker, waiver.why.trim())
        };
        match all.iter_mut().find(same) {
            Some((_, more)) => more.push(waiver),
            None => all.push((waiver, vec![waiver])),
        }
    }
    let one = |(first, all): (&Waiver, Vec<&Waiver>)| {
        let what = first.blocker.plain(all.len());
        let why = format!(": \u{201c}{}\u{201d}", first.why.trim());
        let mut about = all.into_iter().map(|waiver| of_what(waiver, of, names));
        match (about.len(), about.next()) {
            (1, Some(only)) => {
                let comma = if only.runs.is_empty() { "" } else { ", " };
                let words = Words::plain(what).capital().and(RunKind::Plain, comma).then(only);
                LetPass { words: words.and(RunKind::Plain, why), list: Vec::new() }
            }
            (_, first) => {
                let words = Words::plain(what).capital().and(RunKind::Plain, why);
                let list = first.into_iter().chain(about).map(|words| Told { words, link: None });
                LetPass { words, list: list.collect() }
            }
        }
    };
    all.into_iter().map(one).collect()
}

/// The stock or the entry that a waiver is about.
fn of_what(waiver: &Waiver, of: &SignedLook, names: Names<'_>) -> Words {
    let words = waiver.stock.map_or_else(Words::default, |stock| names.stock(stock));
    let teller = Teller { names, wall: of.look.wall, about: None, by_tank: false };
    let trace = waiver.entry.and_then(|op| of.traces.get(op));
    let Some((at, body)) = trace.and_then(|trace| Some((trace.at, trace.body.as_deref()?))) else {
        return words;
    };
    let comma = if words.runs.is_empty() { "" } else { ", " };
    let words = words.and(RunKind::Plain, comma).then(teller.tell(body));
    words.and(RunKind::Plain, format!(", {}", of.look.wall.moment(at.seconds())))
}
