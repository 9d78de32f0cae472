//! The form of a proposal, and what is given when one agrees.

use serde::Deserialize;
use tarn_domain::streams::parse_uuid;
use uuid::Uuid;

use super::notice_form::{fault, numbers, offered, place};
use super::{GiveForm, SwapFormPage};
use crate::parcels::actions::notices::{NoticeLook, Offerable, spread_of};
use crate::parcels::actions::swaps::{Asked, Given, NewSwap, To};
use crate::parcels::refusals::invalid;
use crate::platform::html::{Field, FormErrors, Page};
use crate::platform::parts::Choice;
use crate::platform::{Problem, Result};

/// What the forms send.
#[derive(Clone, Default, Deserialize)]
#[serde(default)]
pub struct TypedSwap {
    /// Its id, made with the page.
    pub id: String,
    /// Whom, by login name.
    pub to: String,
    /// Or out of a thread.
    pub thread: String,
    /// Or in place of this one.
    pub answers: String,
    give: String,
    give_numbers: String,
    give_more: String,
    give_more_numbers: String,
    give_words: String,
    ask: String,
    ask_numbers: String,
    ask_words: String,
}

impl TypedSwap {
    /// Nothing typed yet.
    pub fn begin(id: String, thread: String, answers: String) -> Self {
        Self { id, thread, answers, ..Self::default() }
    }

    /// What was chosen of one's own fish.
    ///
    /// # Errors
    /// `invalid`.
    pub fn given(&self) -> Result<Vec<Given>> {
        let rows = [
            (&self.give, &self.give_numbers, "give_numbers"),
            (&self.give_more, &self.give_more_numbers, "give_more_numbers"),
        ];
        let mut all = Vec::new();
        for (stock, typed, field) in rows {
            let Some(at) = place(stock) else { continue };
            let numbers = some(typed, field)?;
            all.push(Given { at, numbers, species: None, form: None });
        }
        Ok(all)
    }

    /// The proposal.
    ///
    /// # Errors
    /// `invalid`.
    pub fn read(&self) -> Result<NewSwap> {
        let words = |text: &str| Some(text.trim().replace("\r\n", "\n")).filter(|text| !text.is_empty());
        let to = match (parse_uuid(&self.thread), parse_uuid(&self.answers)) {
            (_, Some(swap)) => To::Answers(swap),
            (Some(thread), None) => To::Thread(thread),
            (None, None) if self.to.trim().is_empty() => {
                return Err(invalid(vec![("to", "Say whom you propose it to.".into())]));
            }
            (None, None) => To::Login(self.to.trim().to_owned()),
        };
        let mut ask = Vec::new();
        if let Some(notice) = parse_uuid(&self.ask) {
            ask.push(Asked { notice, numbers: some(&self.ask_numbers, "ask_numbers")? });
        }
        Ok(NewSwap {
            id: parse_uuid(&self.id).unwrap_or_else(Uuid::nil),
            to,
            give: self.given()?,
            give_words: words(&self.give_words),
            ask,
            ask_words: words(&self.ask_words),
        })
    }
}

fn some(typed: &str, field: &'static str) -> Result<tarn_domain::rooms::Spread> {
    match numbers(typed) {
        Ok(spread) if spread != Default::default() => Ok(spread),
        Ok(_) => Err(invalid(vec![(field, "Say how many.".into())])),
        Err(why) => Err(invalid(vec![(field, why)])),
    }
}

fn optional(mut field: Field) -> Field {
    field.required = false;
    field
}

/// A choice among one's own stocks, twice.
pub fn give_forms(stocks: &[Offerable], typed: &TypedSwap, problem: Option<&Problem>) -> Vec<GiveForm> {
    let rows = [
        ("give", "Your stock", &typed.give, "give_numbers", &typed.give_numbers),
        (
            "give_more",
            "Another stock of yours",
            &typed.give_more,
            "give_more_numbers",
            &typed.give_more_numbers,
        ),
    ];
    let one = |(name, label, stock, many, numbers): (
        &'static str,
        &'static str,
        &String,
        &'static str,
        &String,
    )| {
        let mut choice =
            Choice::of(name, label, stocks.iter().map(offered)).typed(stock, fault(problem, name));
        choice.required = false;
        if name == "give" {
            choice = choice.hint("Only stocks that may leave now are listed.");
        }
        let label = if name == "give" { "How many of it" } else { "How many of that" };
        let numbers =
            optional(Field::new(many, label)).hint("As 2 m 3 f, or 2.3.10.").typed(numbers, problem);
        GiveForm { stock: choice, numbers }
    };
    rows.into_iter().map(one).collect()
}

/// What the form is made of.
pub struct FormParts<'a> {
    /// What was typed.
    pub typed: &'a TypedSwap,
    /// What is read of the other, where they are known.
    pub with: Option<String>,
    /// One's own stocks that may leave.
    pub stocks: &'a [Offerable],
    /// What the other offers by notices.
    pub offers: &'a [NoticeLook],
    /// What is wrong.
    pub problem: Option<&'a Problem>,
}

/// The form's page.
pub fn form(page: Page, parts: FormParts<'_>) -> SwapFormPage {
    let FormParts { typed, with, stocks, offers, problem } = parts;
    let hidden =
        vec![("id", typed.id.clone()), ("thread", typed.thread.clone()), ("answers", typed.answers.clone())];
    let lead = match (&with, typed.answers.is_empty()) {
        (Some(with), false) => format!("In place of what {with} proposes. Theirs is declined with it."),
        (Some(with), true) => format!("To {with}. Nothing is agreed before they answer."),
        (None, _) => "To a member of one of your clubs. Nothing is agreed before they answer.".into(),
    };
    let leave = match (parse_uuid(&typed.answers), parse_uuid(&typed.thread)) {
        (Some(swap), _) => format!("/swaps/{swap}"),
        (None, Some(thread)) => format!("/threads/{thread}"),
        _ => "/swaps".into(),
    };
    let offered = offers.iter().map(|look| {
        let row = &look.row;
        let form = row.form.as_deref().map(|form| format!(", {form}")).unwrap_or_default();
        (row.id.to_string(), format!("{}{form}: {}", row.species, spread_of(row)))
    });
    let ask = (!offers.is_empty()).then(|| {
        let mut stock =
            Choice::of("ask", "Of what they offer", offered).typed(&typed.ask, fault(problem, "ask"));
        stock.required = false;
        GiveForm {
            stock,
            numbers: optional(Field::new("ask_numbers", "How many you ask for"))
                .hint("As 2 m 3 f, or 2.3.10.")
                .typed(&typed.ask_numbers, problem),
        }
    });
    SwapFormPage {
        page,
        lead,
        errors: problem.map(|problem| FormErrors::of("Not proposed", problem)),
        hidden,
        to: with.is_none().then(|| {
            Field::new("to", "Whom")
                .hint("Their login name. Or propose it out of a thread about a notice.")
                .typed(&typed.to, problem)
        }),
        give: give_forms(stocks, typed, problem),
        give_words: optional(Field::new("give_words", "What you give, in words"))
            .hint("If it is none of your stocks yet, or there is more to say.")
            .typed(&typed.give_words, problem),
        ask,
        ask_words: optional(Field::new("ask_words", "What you ask for, in words"))
            .typed(&typed.ask_words, problem),
        leave,
    }
}
