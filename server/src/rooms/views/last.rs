//! The last entry and how it is taken back; what has just been written or taken back.

use serde::Deserialize;
use tarn_domain::state::Memory;
use tarn_domain::streams::{AccountId, OpId, Standing, StreamId};

use super::entry::Teller;
use crate::platform::parts::{Deed, LastEntry};
use crate::platform::words::{RunKind, Words};
use crate::rooms::actions::read::{Trace, Traces};

/// An entry that came in longer ago is no longer "the last": taking back can't itself be taken back, so what one
/// press does should still be in mind. It can be taken back with the client.
const IN_MIND_MS: i64 = 24 * 3_600_000;

/// How many letters of an entry stand in the bar at the foot, which must not grow over the page.
const AT_THE_FOOT: usize = 80;

/// What an address may ask to have said.
#[derive(Debug, Default, Clone, Copy, Deserialize)]
pub struct TakenBack {
    /// An entry that was just written.
    pub wrote: Option<uuid::Uuid>,
    /// An entry that was just taken back.
    pub taken: Option<uuid::Uuid>,
    /// How many of the newest entries are passed over.
    pub after: Option<usize>,
}

/// The reader's last entry that can be taken back.
pub fn find(memory: &Memory, traces: &mut Traces, account: AccountId, now_ms: i64) -> Option<OpId> {
    let entry = memory
        .latest()
        .take_while(|e| e.accepted.is_none_or(|a| a.received.0 > now_ms - IN_MIND_MS))
        .find(|e| {
            let mine = e.accepted.is_some_and(|a| a.by == account.into() && !a.decision);
            let fixed = e.linked.links.withdraws.is_some() || memory.is_relied_on(e.linked.order.id);
            mine && !fixed && memory.standing(e) != Standing::Withdrawn
        })?;
    Some(traces.take(memory, entry))
}

/// The form that takes an entry back and comes back to this page.
pub fn deed(room: StreamId, entry: OpId, new: OpId, back: &str, words: &str) -> Deed {
    Deed {
        words: words.to_owned(),
        action: format!("/rooms/{room}/taken-back"),
        hidden: vec![("id", new.to_string()), ("entry", entry.to_string()), ("back", back.to_owned())],
    }
}

/// The bar at the foot.
pub fn last_entry(teller: &Teller<'_>, trace: &Trace, room: StreamId, new: OpId, back: &str) -> LastEntry {
    let Deed { action, hidden, .. } = deed(room, trace.op, new, back, "");
    let teller = Teller { by_tank: true, ..*teller };
    let what = trace.body.as_deref().map_or_else(Words::default, |body| teller.tell(body).capital());
    LastEntry { when: teller.wall.brief(trace.at.seconds()), what: brief(what), action, hidden }
}

/// Enough to know the entry by; the whole of it stands in the list.
fn brief(words: Words) -> Words {
    if words.text().chars().count() <= AT_THE_FOOT {
        return words;
    }
    let mut left = AT_THE_FOOT;
    let mut kept = Words::default();
    for run in words.runs {
        let letters = run.text.chars().count();
        if letters > left {
            let cut: String = run.text.chars().take(left).collect();
            kept = kept.and(run.kind, cut.rsplit_once(' ').map_or("", |(words, _)| words));
            break;
        }
        left -= letters;
        kept.runs.push(run);
    }
    kept.and(RunKind::Plain, "\u{a0}\u{2026}")
}

/// What has just been done; nothing if the records don't say so.
pub fn said(teller: &Teller<'_>, traces: &Traces, ask: TakenBack) -> Option<Words> {
    let told = |id: uuid::Uuid, wanted: bool, verb: &str| {
        let trace = traces.get(OpId(id))?;
        let withdrawn = trace.standing == Standing::Withdrawn;
        let words = teller.tell(trace.body.as_deref()?).capital().quoted();
        let when = teller.wall.brief(trace.at.seconds());
        let said = Words::plain(format!("{verb}: ")).then(words).and(RunKind::Plain, format!(", {when}."));
        (withdrawn == wanted).then_some(said)
    };
    let wrote = ask.wrote.and_then(|id| told(id, false, "Written"));
    wrote.or_else(|| ask.taken.and_then(|id| told(id, true, "Taken back")))
}

/// Copies out what [`said`] may have to speak of.
pub fn take_said(memory: &Memory, traces: &mut Traces, ask: TakenBack) {
    for id in ask.wrote.into_iter().chain(ask.taken) {
        if let Some(entry) = memory.entry(OpId(id)) {
            traces.take(memory, entry);
        }
    }
}

/// With a capital, as at the start of a sentence.
pub fn first_upper(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
