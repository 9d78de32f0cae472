//! Display parts that several pages share: strings ready to print. Knows no area, asks no database.

use super::gauge::Gauge;
use super::html::Link;
use super::words::Words;

/// Colour of a state; it only repeats the word.
#[derive(Clone, Copy)]
pub enum Tone {
    /// Runs: `running`, `treating`.
    Water,
    /// Waits: `due`, `in the bag`, `waits`.
    Ochre,
    /// Done: `cleared`.
    Lichen,
    /// Stops: `recalled`, `disputed`.
    Rust,
    /// Over: `ended`.
    Plain,
}

impl Tone {
    /// The class in the style sheet.
    pub fn class(self) -> &'static str {
        match self {
            Self::Water => "water",
            Self::Ochre => "ochre",
            Self::Lichen => "lichen",
            Self::Rust => "rust",
            Self::Plain => "plain",
        }
    }
}

/// A state: its word, lower case, and its colour.
pub struct State {
    /// The word.
    pub word: &'static str,
    /// Its colour.
    pub tone: Tone,
}

impl State {
    /// A state by its word; an unknown word is set without colour.
    pub fn of(word: &'static str) -> Self {
        let tone = match word {
            "running" | "treating" => Tone::Water,
            "due" | "in the bag" | "waits" => Tone::Ochre,
            "cleared" => Tone::Lichen,
            "recalled" | "disputed" => Tone::Rust,
            _ => Tone::Plain,
        };
        Self { word, tone }
    }
}

/// One unit in a list.
pub struct UnitLine {
    /// Its name: tanks and where they stand; or the fish in a bag.
    pub name: Words,
    /// Whose room, when the reader isn't its keeper.
    pub place: Option<String>,
    /// Its state.
    pub state: State,
    /// What goes with the state's word.
    pub sentence: String,
    /// Days; none while treating or in the bag.
    pub gauge: Option<Gauge>,
    /// What else is in the way.
    pub in_the_way: Option<String>,
    /// The one link.
    pub link: Option<Link>,
}

/// Something to put right.
pub struct Finding {
    /// Names the fact.
    pub title: Words,
    /// What is known.
    pub sentence: Words,
    /// One way on, if there is one.
    pub link: Option<Link>,
    /// What puts it right, if one press does.
    pub deed: Option<Deed>,
}

/// A button that is a form of its own.
pub struct Deed {
    /// What it does, on the button.
    pub words: String,
    /// Where it posts to.
    pub action: String,
    /// What it sends beside the token.
    pub hidden: Vec<(&'static str, String)>,
}

/// A deed that needs a reason in writing.
pub struct InWriting {
    /// What opens the form.
    pub opens: &'static str,
    /// The button, and what it sends beside the reason.
    pub deed: Deed,
    /// The reason.
    pub why: Reason,
}

/// Where a reason is written; as `Field`, with a name that only the page knows.
pub struct Reason {
    /// Name in the form, and its id on the page.
    pub name: String,
    /// What stands above it.
    pub label: String,
    /// What helps to fill it.
    pub hint: Option<Words>,
    /// What is wrong with what was typed.
    pub error: Option<String>,
    /// What was typed.
    pub value: String,
    /// Always.
    pub required: bool,
}

impl Reason {
    /// An empty one.
    pub fn new(name: String, label: impl Into<String>) -> Self {
        Self { name, label: label.into(), hint: None, error: None, value: String::new(), required: true }
    }

    /// With what was typed, and what is wrong with it.
    pub fn typed(mut self, value: &str, error: Option<&str>) -> Self {
        value.clone_into(&mut self.value);
        self.error = error.map(str::to_owned);
        self
    }
}

/// One way to clear a blocker.
#[derive(Default)]
pub struct Way {
    /// What it is, and its new day.
    pub sentence: String,
    /// The button, if the reader may.
    pub deed: Option<Deed>,
    /// What has to be chosen before the button is pressed.
    pub choice: Option<Choice>,
    /// Or a form, if the reader may and has to say why.
    pub form: Option<InWriting>,
    /// Or a link.
    pub link: Option<Link>,
}

impl Way {
    /// A sentence, and nothing to press.
    pub fn say(sentence: impl Into<String>) -> Self {
        Self { sentence: sentence.into(), ..Self::default() }
    }
}

/// A line of a list, and where more of it stands.
pub struct Told {
    /// What it says.
    pub words: Words,
    /// The way to the entry.
    pub link: Option<Link>,
}

/// Something in the way of a deed.
pub struct Blocker {
    /// Names the fact.
    pub title: String,
    /// What happened, with times and the rule's number.
    pub happened: Words,
    /// The entries it is about, where there are several.
    pub list: Vec<Told>,
    /// "What clears it" or "What clears it, one of the two".
    pub clears: &'static str,
    /// How it is cleared.
    pub ways: Vec<Way>,
}

impl Blocker {
    /// Of a fact and the ways to clear it.
    pub fn new(title: impl Into<String>, happened: impl Into<Words>, ways: Vec<Way>) -> Self {
        let clears = match ways.len() {
            0 | 1 => "What clears it",
            2 => "What clears it, one of the two",
            _ => "What clears it, one of these",
        };
        Self { title: title.into(), happened: happened.into(), list: Vec::new(), clears, ways }
    }
}

/// The last entry, which "That was wrong" takes back.
pub struct LastEntry {
    /// When, e.g. "18:34" or "Wed 6 May, 18:34".
    pub when: String,
    /// What, in a few words.
    pub what: Words,
    /// Where the form posts to.
    pub action: String,
    /// What it sends beside the token.
    pub hidden: Vec<(&'static str, String)>,
}

/// Whether the names of tanks need a wider column than two or three signs do. Names are never cut.
pub fn needs_wide<'a>(mut tanks: impl Iterator<Item = &'a str>) -> bool {
    tanks.any(|name| name.chars().count() > 5)
}

/// A name and its value in a list of facts.
pub struct Fact {
    /// What it is.
    pub name: String,
    /// How it is.
    pub value: Words,
}

/// One of several.
pub struct Choice {
    /// Name in the form.
    pub name: &'static str,
    /// The question.
    pub label: &'static str,
    /// Under it.
    pub hint: Option<Words>,
    /// What is wrong, as a sentence.
    pub error: Option<String>,
    /// Whether one must be chosen.
    pub required: bool,
    /// The answers.
    pub options: Vec<Choosable>,
}

/// An answer.
pub struct Choosable {
    /// What the form sends.
    pub value: String,
    /// What it says.
    pub words: String,
    /// Whether it was chosen. Never in advance.
    pub chosen: bool,
}

impl Choice {
    /// One of these must be chosen; none is in advance.
    pub fn of(
        name: &'static str,
        label: &'static str,
        options: impl IntoIterator<Item = (String, String)>,
    ) -> Self {
        let options = options.into_iter().map(|(value, words)| Choosable { value, words, chosen: false });
        Self { name, label, hint: None, error: None, required: true, options: options.collect() }
    }

    /// With what was chosen, and what is wrong with it.
    pub fn typed(mut self, value: &str, error: Option<String>) -> Self {
        for option in &mut self.options {
            option.chosen = option.value == value;
        }
        self.error = error;
        self
    }

    /// With what helps to choose.
    pub fn hint(mut self, hint: impl Into<Words>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

/// An entry of the records, as a list shows it.
pub struct EntryRow {
    /// Where on the page it is, for links to it.
    pub anchor: String,
    /// When it was so.
    pub when: String,
    /// What it says.
    pub what: Words,
    /// Written later than it happened, taken back, does not count.
    pub note: Option<String>,
    /// Who wrote it, on which device.
    pub who: String,
    /// Whether it no longer counts; the note says so in words.
    pub taken_back: bool,
    /// Its own page, where it has words that can be blanked.
    pub own_page: Option<String>,
}
