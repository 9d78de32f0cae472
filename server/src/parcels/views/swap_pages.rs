//! What the pages of swaps hold.

use askama::Template;

use super::{Line, Spoken};
use crate::platform::html::{Field, FormErrors, Link, Page};
use crate::platform::parts::{Choice, State};
use crate::platform::words::Words;

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
