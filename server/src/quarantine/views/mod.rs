//! What the quarantine's pages show, as strings ready to print. Asks no database.

mod began;
mod blockers;
mod course;
mod groups;
mod leaving;
mod lines;
mod noted;
mod people;
mod runs;
mod sign_off;
mod signed;
mod timeline;
mod unit;

use askama::Template;

use crate::platform::drawing::Picture;
use crate::platform::html::{Field, FormErrors, Link, Page};
use crate::platform::parts::{Blocker, Choice, EntryRow, Fact, Reason, State, Told, UnitLine, needs_wide};
use crate::platform::words::Words;

pub use blockers::CameBack;
pub use groups::{Group, groups};
pub use leaving::{held, page as leaving_page};
pub use lines::{Desk, for_desk, for_room};
pub use people::{ClubOf, People, You, too_few};
pub use sign_off::{Asked, form_page};
pub use signed::{Signers, signed_page};
pub use unit::{Parts as UnitParts, page as unit_page};

/// `/units/{room}/{unit}`: why it isn't ready.
#[derive(Template)]
#[template(path = "quarantine/unit.html")]
pub struct UnitPage {
    /// Layout; `title` is the unit's name.
    pub page: Page,
    /// The same as set on the page.
    pub heading: Words,
    /// Its state.
    pub state: State,
    /// E.g. "Not ready. 12 of 30 days are done; not before **Mon 25 May, 18:40**.".
    pub lead: Words,
    /// What has just been done.
    pub said: Option<Words>,
    /// What is wrong with what was typed.
    pub errors: Option<FormErrors>,
    /// For a steward: if the room must be emptied.
    pub emergency: Option<Link>,
    /// The way to the sign-off, for a steward who may.
    pub sign_off: Option<Link>,
    /// None in the bag.
    pub picture: Option<Picture>,
    /// What the lines of the picture mean; or why there is none.
    pub legend: String,
    /// Every time the days began, the first first.
    pub runs: Vec<RunRow>,
    /// Treatments of the water.
    pub treated: Vec<String>,
    /// What else is in the way.
    pub blockers: Vec<Blocker>,
    /// What it holds.
    pub members: Vec<MemberRow>,
    /// Why they are one unit, and what may not be done until it is cleared.
    pub shares: String,
    /// Looks, signs, losses.
    pub record: Words,
    /// Every entry since it was opened, the newest first.
    pub entries: Vec<EntryRow>,
    /// The rule, in sentences.
    pub rule: Vec<String>,
    /// For the foot of a printed leaf.
    pub printed: String,
}

impl UnitPage {
    /// Whether tanks have long names here.
    fn is_wide(&self) -> bool {
        needs_wide(self.members.iter().map(|member| member.tank.as_str()))
    }
}

/// One time that the days began.
pub struct RunRow {
    /// When.
    pub when: String,
    /// Why.
    pub why: Words,
    /// The way to the entry.
    pub link: Option<Link>,
    /// How far they came.
    pub days: String,
}

/// A member of a unit.
pub struct MemberRow {
    /// Tank's position.
    pub tank: String,
    /// Its name.
    pub name: Words,
    /// The stock's page, for those who may see it.
    pub href: Option<String>,
    /// How many.
    pub how_many: Words,
    /// Last column: where it came from, or days held.
    pub last: String,
}

/// `/units` (a keeper's own rooms) and `/sign-off` (a steward's clubs).
#[derive(Template)]
#[template(path = "quarantine/list.html")]
pub struct UnitList {
    /// Layout.
    pub page: Page,
    /// How many wait for a signature, what is next.
    pub lead: String,
    /// Said to clubs that depend on one steward.
    pub notes: Vec<String>,
    /// What may leave, room by room.
    pub leaving: Vec<Link>,
    /// Without empty groups.
    pub groups: Vec<UnitGroup>,
    /// Said when there is none.
    pub empty: String,
}

/// Units of one kind.
pub struct UnitGroup {
    /// Id in the page.
    pub id: &'static str,
    /// Its title.
    pub title: &'static str,
    /// The first due first.
    pub units: Vec<UnitLine>,
}

/// `/sign-off/{room}/{unit}`.
#[derive(Template)]
#[template(path = "quarantine/sign_off.html")]
pub struct SignOffPage {
    /// Layout; `title` is "Sign off Q3, stands alone".
    pub page: Page,
    /// The same as set on the page.
    pub heading: Words,
    /// Its state.
    pub state: State,
    /// Since when due, as what the reader reads it, that they are no party.
    pub lead: Words,
    /// What is missing.
    pub errors: Option<FormErrors>,
    /// What would be cleared; `last` = days held.
    pub members: Vec<MemberRow>,
    /// Looks, signs, losses.
    pub record: Words,
    /// The way to the entries.
    pub every_entry: Option<Link>,
    /// Who has signed, and who has to, where several clubs have a say.
    pub signatures: Vec<Fact>,
    /// Why the reader can't sign; then there is no form.
    pub refusals: Vec<Blocker>,
    /// The form, if it can be signed.
    pub form: Option<SignOffForm>,
}

impl SignOffPage {
    /// Whether tanks have long names here.
    fn is_wide(&self) -> bool {
        needs_wide(self.members.iter().map(|member| member.tank.as_str()))
    }
}

/// What the steward fills in.
pub struct SignOffForm {
    /// Where it posts to.
    pub action: String,
    /// Id of this sign-off, so that a repeated post is the same one.
    pub id: String,
    /// Head of the stream that this page shows.
    pub head: String,
    /// How the fish were seen.
    pub seen: Choice,
    /// What is let pass, each with its reason.
    pub waivers: Vec<Waiver>,
    /// Not required.
    pub remark: Field,
    /// The exact words.
    pub standing: String,
    /// Where one goes without signing.
    pub leave: String,
}

/// Something that is let pass with the signature.
pub struct Waiver {
    /// The entries, where there are several.
    pub list: Vec<Told>,
    /// Why it does not matter; what it is stands above it as label and hint.
    pub why: Reason,
}

/// `/rooms/{room}/leaving`: what may leave.
#[derive(Template)]
#[template(path = "quarantine/leaving.html")]
pub struct LeavingPage {
    /// Layout.
    pub page: Page,
    /// How many may, how many may not.
    pub lead: String,
    /// Those that may not, and why.
    pub held: Vec<LeavingRow>,
    /// Those that may.
    pub free: Vec<LeavingRow>,
    /// For the foot of a printed leaf.
    pub printed: String,
}

impl LeavingPage {
    /// Whether tanks have long names here.
    fn is_wide(&self) -> bool {
        needs_wide(self.held.iter().chain(&self.free).map(|row| row.tank.as_str()))
    }
}

/// A stock that may, or may not, leave.
pub struct LeavingRow {
    /// Tank's position.
    pub tank: String,
    /// Its name.
    pub name: Words,
    /// The stock's page.
    pub href: String,
    /// How many.
    pub how_many: Words,
    /// Why not; empty if it may.
    pub why: String,
    /// Its unit's page.
    pub unit: Option<Link>,
}

/// What one reason lets pass.
pub struct LetPass {
    /// What, and why.
    pub words: Words,
    /// The stocks or entries, where there are several.
    pub list: Vec<Told>,
}

/// `/sign-off/{room}/{unit}/signed`.
#[derive(Template)]
#[template(path = "quarantine/signed.html")]
pub struct SignedPage {
    /// Layout; `title` is "Signed: Q3, stands alone".
    pub page: Page,
    /// The same as set on the page.
    pub heading: Words,
    /// `cleared`; `recalled`; or as it stands while another club has to sign.
    pub state: State,
    /// What it means now.
    pub lead: Words,
    /// The exact words that stand.
    pub standing: String,
    /// What was let pass, and why.
    pub waivers: Vec<LetPass>,
    /// Signed by, when, how seen, remark, rule versions.
    pub facts: Vec<Fact>,
    /// Back to the list.
    pub next: Link,
    /// For the foot of a printed leaf.
    pub printed: String,
}
