//! What is in the way of a unit besides its days: the fact, what happened, and what clears it, with the button for
//! whoever may. Decides nothing: what blocks comes from the clock.

mod bag;
mod counts;
mod entries;
mod gaps;
mod standing;

use tarn_domain::state::Blocker as Fact;
use tarn_domain::streams::OpId;

use super::groups::{Group, groups};
use super::people::{People, You};
use crate::platform::html::Link;
use crate::platform::parts::{Blocker, Deed, InWriting, Reason, Told, Way};
use crate::platform::words::{RunKind, Words};
use crate::quarantine::actions::UnitLook;
use crate::rooms::actions::read::Writers;
use crate::rooms::views::Teller;

/// A form of the page that came back: which group's, what was typed, what is wrong.
#[derive(Debug, Default, Clone)]
pub struct CameBack {
    /// Name of the field.
    pub field: String,
    /// What was typed.
    pub typed: String,
    /// What is wrong with it.
    pub error: String,
}

/// Of which unit, for whom.
pub struct Scene<'a> {
    /// The unit.
    pub of: &'a UnitLook,
    /// Who has a say.
    pub people: &'a People,
    /// Names and times.
    pub teller: &'a Teller<'a>,
    /// Who wrote what.
    pub writers: &'a Writers,
    /// A form that came back.
    pub came_back: &'a CameBack,
    /// Where the entries stand; empty: on the same page.
    pub entries_at: &'a str,
}

/// Everything that is in the way now; `new` makes the id that a form carries.
pub fn blockers(scene: &Scene<'_>, new: &mut dyn FnMut() -> OpId) -> Vec<Blocker> {
    let mut all = standing::before(scene, new);
    for group in groups(&scene.of.blockers) {
        all.push(of_group(scene, &group, new));
    }
    all.extend(standing::after(scene));
    all
}

fn of_group(scene: &Scene<'_>, group: &Group, new: &mut dyn FnMut() -> OpId) -> Blocker {
    match group.first {
        Fact::Gap(gap) => gaps::gap(scene, group, gap, new),
        Fact::FoundMore(mark) => counts::found_more(scene, group, mark, new),
        Fact::ManyNamed(mark) => counts::many_named(scene, group, mark, new),
        Fact::Late { .. } => entries::late(scene, group, new),
        Fact::Withdrawn { op, by, .. } => entries::withdrawn(scene, group, (op, by), new),
    }
}

/// What is in the way, as the heading and hint of a waiver's field.
pub fn heading(scene: &Scene<'_>, group: &Group) -> (String, Words, Vec<Told>) {
    let told = of_group(scene, group, &mut || OpId(uuid::Uuid::nil()));
    (told.title, told.happened, told.list)
}

impl Scene<'_> {
    /// Where forms about the unit post to.
    fn action(&self, verb: &str) -> String {
        format!("/units/{}/{}/{verb}", self.of.look.id, self.of.unit.id)
    }

    /// An entry in quotation marks, and when it was so; nothing of one that can't be read.
    fn entry(&self, op: OpId) -> Option<Words> {
        let trace = self.of.traces.get(op)?;
        let words = self.teller.tell(trace.body.as_deref()?).capital().quoted();
        Some(words.and(RunKind::Plain, format!(", {}", self.teller.wall.moment(trace.at.seconds()))))
    }

    /// An entry as a line, with the way to it.
    fn told(&self, op: OpId, after: &str) -> Option<Told> {
        let words = self.entry(op)?.and(RunKind::Plain, format!("{after}."));
        let link = self.of.entries.contains(&op);
        let link = link.then(|| Link {
            href: format!("{}#entry-{op}", self.entries_at),
            words: "The\u{a0}entry".into(),
        });
        Some(Told { words, link })
    }

    /// What a steward does about a group: lets it pass in writing, or, if the reader can't, who does.
    fn waived(&self, group: &Group, new: &mut dyn FnMut() -> OpId) -> Way {
        match &self.people.you {
            You::Keeper if self.people.clubs.is_empty() => {
                Way::say("A steward waives it in writing; the room has no club whose steward could.")
            }
            You::Keeper => Way::say(format!(
                "A steward waives it in writing, with the sign-off or before. You can\u{2019}t do this yourself. {}",
                self.people.ask()
            )),
            You::Party => {
                Way::say("A steward who is no party waives it in writing. You are one, so another does.")
            }
            You::Done => Way::say("A steward whose club has not signed waives it in writing."),
            You::Steward(..) => Way {
                sentence: "You let it pass in writing, with the sign-off or before it.".into(),
                form: Some(self.form(
                    (group.field(), "Why it does not matter"),
                    ("Let this pass now", "Let it pass"),
                    self.action("waivers"),
                    group.keys().map(|key| ("key", key)).chain([("id", new().to_string())]).collect(),
                )),
                ..Way::default()
            },
        }
    }

    fn form(
        &self,
        (name, label): (String, &str),
        (opens, button): (&'static str, &str),
        action: String,
        hidden: Vec<(&'static str, String)>,
    ) -> InWriting {
        let back = Some(self.came_back).filter(|back| back.field == name);
        let why = Reason::new(name, label);
        let why = match back {
            Some(back) => why.typed(&back.typed, Some(&back.error)),
            None => why,
        };
        InWriting { opens, deed: Deed { words: button.into(), action, hidden }, why }
    }
}
