//! What the pages of notices, threads and swaps show, as strings ready to print. Asks no database.

mod notice;
mod notice_form;
mod parcel;
mod swap;
mod swap_form;
mod thread;

use askama::Template;
use tarn_domain::parcels::Price;
use tarn_domain::rooms::Spread;

use crate::platform::html::{Field, FormErrors, Link, Page};
use crate::platform::parts::{Choice, Fact, State};
use crate::platform::words::{RunKind, Words};

pub use notice::{Found, NoticeParts, list_page, notice_page};
pub use notice_form::{TypedNotice, form as notice_form, typed_of as typed_notice};
pub use parcel::{AgreePage, ParcelPage, ParcelParts, SettleTyped, agree_page, parcel_page, parcels_page};
pub use swap::{SwapParts, list_page as swaps_page, swap_page};
pub use swap_form::{FormParts, TypedSwap, form as swap_form, give_forms};
pub use thread::{ThreadParts, list_page as threads_page, thread_page};

/// A line of a list: what it is, how it stands, and where it stands at length.
pub struct Line {
    /// Where its page is.
    pub href: String,
    /// What it is.
    pub name: Words,
    /// How it stands, unless it merely stands.
    pub state: Option<State>,
    /// What is known of it.
    pub sentence: String,
    /// Whose it is, and since when.
    pub second: String,
}

/// `/notices`.
#[derive(Template)]
#[template(path = "parcels/notices.html")]
pub struct NoticesPage {
    /// Layout.
    pub page: Page,
    /// How many, of what.
    pub lead: String,
    /// Where else one may go.
    pub ways: Vec<Link>,
    /// The words that are looked for.
    pub words: Field,
    /// The kinds.
    pub kind: Choice,
    /// The boards; none where there is one.
    pub club: Option<Choice>,
    /// Whether it lists one's own.
    pub mine: bool,
    /// Title of the list.
    pub heading: &'static str,
    /// The notices.
    pub lines: Vec<Line>,
    /// What is said where there are none.
    pub none: &'static str,
    /// Where the list goes on.
    pub older: Option<Link>,
}

/// `/notices/{id}`.
#[derive(Template)]
#[template(path = "parcels/notice.html")]
pub struct NoticePage {
    /// Layout; `title` is what it is.
    pub page: Page,
    /// The same as set on the page.
    pub heading: Words,
    /// How it stands.
    pub state: State,
    /// What goes with the state's word.
    pub lead: String,
    /// What has just been done.
    pub said: Option<&'static str>,
    /// What is wrong with what was typed.
    pub errors: Option<FormErrors>,
    /// Why nobody else sees it.
    pub not_shown: Option<String>,
    /// What it says.
    pub facts: Vec<Fact>,
    /// In the author's own lines.
    pub remarks: Option<String>,
    /// Never without them.
    pub cautions: Vec<&'static str>,
    /// Its address.
    pub href: String,
    /// Whether the reader put it up.
    pub mine: bool,
    /// The author's own stock; nobody else sees it.
    pub offers: Option<Link>,
    /// Whether it stands, for its author's deeds.
    pub is_open: bool,
    /// Whether its author can put it up again.
    pub may_again: bool,
    /// The threads about it that the reader is a party to.
    pub threads: Vec<Line>,
    /// The id of a reply that is written here, and its field; none where it can't be.
    pub reply: Option<(String, Field)>,
    /// An officer's reason for taking it down.
    pub officer: Option<Field>,
}

/// `/notices/new` and `/notices/{id}/edit`.
#[derive(Template)]
#[template(path = "parcels/notice_form.html")]
pub struct NoticeFormPage {
    /// Layout.
    pub page: Page,
    /// What is wrong with what was typed.
    pub errors: Option<FormErrors>,
    /// Where it goes.
    pub action: String,
    /// What it sends beside the token.
    pub hidden: Vec<(&'static str, String)>,
    /// What it is for; fixed once it was put up.
    pub kind: Option<Choice>,
    /// On whose board; none where there is one, or it was put up.
    pub club: Option<Choice>,
    /// Out of which stock.
    pub stock: Choice,
    /// The species.
    pub species: Field,
    /// The form.
    pub form: Field,
    /// How many.
    pub numbers: Field,
    /// For how much.
    pub price: Field,
    /// In which currency.
    pub currency: Field,
    /// Or for what else.
    pub exchange: Field,
    /// Where, roughly.
    pub area: Field,
    /// How they change hands.
    pub pickup: Choice,
    /// Who sees it.
    pub all_clubs: Choice,
    /// Anything else.
    pub remarks: Field,
    /// The button.
    pub deed: &'static str,
    /// Away from it.
    pub leave: String,
}

/// A line of a thread.
pub struct Spoken {
    /// Its place on the page.
    pub anchor: String,
    /// Who.
    pub by: String,
    /// When.
    pub when: String,
    /// What.
    pub text: String,
}

/// `/threads/{id}`.
#[derive(Template)]
#[template(path = "parcels/thread.html")]
pub struct ThreadPage {
    /// Layout.
    pub page: Page,
    /// What it is about.
    pub lead: String,
    /// What is wrong with what was typed.
    pub errors: Option<FormErrors>,
    /// The notice, a swap.
    pub ways: Vec<Link>,
    /// The swaps that came of it.
    pub swaps: Vec<Line>,
    /// The lines, the oldest first.
    pub lines: Vec<Spoken>,
    /// Where older ones are.
    pub older: Option<Link>,
    /// Its address.
    pub href: String,
    /// The id of a line that is written here.
    pub id: String,
    /// The line.
    pub text: Field,
}

/// `/threads`.
#[derive(Template)]
#[template(path = "parcels/threads.html")]
pub struct ThreadsPage {
    /// Layout.
    pub page: Page,
    /// How many.
    pub lead: String,
    /// Those last written in first.
    pub lines: Vec<Line>,
    /// Where the list goes on.
    pub older: Option<Link>,
}

/// `/swaps`.
#[derive(Template)]
#[template(path = "parcels/swaps.html")]
pub struct SwapsPage {
    /// Layout.
    pub page: Page,
    /// How many wait for the reader.
    pub lead: String,
    /// The newest first.
    pub lines: Vec<Line>,
    /// Where the list goes on.
    pub older: Option<Link>,
}

/// Fish of one side of a swap.
pub struct FishRow {
    /// What they are.
    pub name: Words,
    /// How many.
    pub how_many: String,
    /// The reader's own stock, or the notice.
    pub link: Option<Link>,
}

/// One side of a swap.
pub struct Side {
    /// Its place on the page.
    pub anchor: &'static str,
    /// "You give".
    pub heading: &'static str,
    /// The fish.
    pub rows: Vec<FishRow>,
    /// The same in words.
    pub words: Option<String>,
    /// How the parcel stands.
    pub parcel: Option<ParcelLine>,
}

/// How a parcel stands.
pub struct ParcelLine {
    /// Its word.
    pub state: State,
    /// What goes with it.
    pub sentence: String,
    /// What to type to pack it.
    pub command: Option<String>,
    /// The stock it came out of, or became.
    pub link: Option<Link>,
}

/// `/swaps/{id}`.
#[derive(Template)]
#[template(path = "parcels/swap.html")]
pub struct SwapPage {
    /// Layout.
    pub page: Page,
    /// How it stands.
    pub state: State,
    /// What goes with the state's word.
    pub lead: String,
    /// What has just been done.
    pub said: Option<&'static str>,
    /// What is wrong with what was typed, or in the way.
    pub errors: Option<FormErrors>,
    /// Both sides, the reader's first.
    pub sides: Vec<Side>,
    /// Its address.
    pub href: String,
    /// The other proposals that it answers or that answer it.
    pub ways: Vec<Link>,
    /// What is given, if the reader may agree.
    pub agree: Option<Vec<GiveForm>>,
    /// The button by which the reader withdraws.
    pub withdraw: Option<&'static str>,
    /// Cautions about living animals that travel.
    pub cautions: Vec<&'static str>,
    /// The last lines, the oldest first.
    pub lines: Vec<Spoken>,
    /// The whole thread.
    pub thread: Link,
    /// The id of a line that is written here.
    pub id: String,
    /// The line.
    pub text: Field,
}

/// A stock that is given, and how many.
pub struct GiveForm {
    /// Out of which stock.
    pub stock: Choice,
    /// Its name in the form.
    pub numbers: Field,
}

/// `/swaps/new`.
#[derive(Template)]
#[template(path = "parcels/swap_form.html")]
pub struct SwapFormPage {
    /// Layout.
    pub page: Page,
    /// To whom.
    pub lead: String,
    /// What is wrong with what was typed.
    pub errors: Option<FormErrors>,
    /// What it sends beside the token.
    pub hidden: Vec<(&'static str, String)>,
    /// Whom, where it is not known.
    pub to: Option<Field>,
    /// What is given.
    pub give: Vec<GiveForm>,
    /// The same in words.
    pub give_words: Field,
    /// What is asked for of what they offer; none where they offer nothing.
    pub ask: Option<GiveForm>,
    /// The same in words.
    pub ask_words: Field,
    /// Away from it.
    pub leave: String,
}

/// A species and a form: italics, and what stands in quotation marks.
fn fish(species: &str, form: Option<&str>) -> Words {
    let words = Words::species(species);
    match form.map(str::trim).filter(|form| !form.is_empty()) {
        Some(form) => words.and(RunKind::Plain, format!(" \u{201c}{form}\u{201d}")),
        None => words,
    }
}

fn fact(name: &str, value: impl Into<Words>) -> Fact {
    Fact { name: name.into(), value: value.into() }
}

fn numbers(spread: &Spread) -> Option<String> {
    (*spread != Spread::default()).then(|| spread.to_string())
}

/// "EUR 12.50, or for …".
fn for_what(price: Option<&Price>, exchange: Option<&str>) -> Option<String> {
    match (price, exchange) {
        (Some(price), Some(exchange)) => Some(format!("{price}, or {exchange}")),
        (Some(price), None) => Some(price.to_string()),
        (None, Some(exchange)) => Some(exchange.to_owned()),
        (None, None) => None,
    }
}

fn hands(pickup: bool, posting: bool) -> &'static str {
    match (pickup, posting) {
        (true, true) => "in person or by post",
        (false, true) => "by post",
        _ => "in person",
    }
}
