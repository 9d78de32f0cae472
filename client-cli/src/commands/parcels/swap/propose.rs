//! `tarn swap propose`.

use clap::{ArgGroup, Args};
use serde_json::{Value, json};

use super::{given, swap_id};
use crate::clock;
use crate::commands::parcels::online::{find, heads, text};
use crate::commands::parcels::pack::stock_and_numbers;
use crate::failure::Outcome;
use crate::remote::Remote;
use crate::sync::session;
use crate::tarn::Tarn;

/// Proposes a swap. Of the other's fish you can name what they offer by a notice; the rest is words.
#[derive(Debug, Args)]
#[command(
    group = ArgGroup::new("whom").args(["to", "thread", "answers"]).required(true),
    before_help = "Examples:\n  tarn swap propose --to jonas --give \"Blue=2 m 3 f\" --ask-words \"two pairs of your Campo\"\n  \
    tarn swap propose --thread 3f2a91c4 --give \"Danios=6\" --ask 91c43f2a=1.1\n  \
    tarn swap propose --answers 5d11e0aa --give \"Blue=1 m 1 f\" --ask-words \"one pair\"",
    after_help = "Nothing is agreed before they answer, and it is over in 14 days without an answer. Passing animals on, \
    and posting them, may need papers or be forbidden where you live."
)]
pub struct Propose {
    /// To a member of one of your clubs, by login name
    #[arg(long, value_name = "LOGIN")]
    to: Option<String>,
    /// To the other one of a thread about a notice
    #[arg(long)]
    thread: Option<String>,
    /// In place of what was proposed to you in this swap
    #[arg(long, value_name = "SWAP")]
    answers: Option<String>,
    /// What you give, as STOCK=NUMBERS; may be repeated
    #[arg(long, value_name = "STOCK=NUMBERS")]
    give: Vec<String>,
    /// The same in words, or more about it
    #[arg(long, value_name = "TEXT")]
    give_words: Option<String>,
    /// What you ask for of what they offer, as NOTICE=NUMBERS; may be repeated
    #[arg(long, value_name = "NOTICE=NUMBERS")]
    ask: Vec<String>,
    /// What you ask for, in words
    #[arg(long, value_name = "TEXT")]
    ask_words: Option<String>,
}

impl Propose {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let give = given(tarn, &self.give)?;
        let mut remote = session::open(tarn)?;
        let ask = self.ask.iter().map(|text| asked(&mut remote, text)).collect::<Outcome<Vec<Value>>>()?;
        let thread = match &self.thread {
            Some(typed) => Some(find(&mut remote, "thread", typed, &[("threads", "threads", "thread")])?.1),
            None => None,
        };
        let answers = self.answers.as_deref().map(|typed| swap_id(&mut remote, typed)).transpose()?;
        let body = json!({
            "id": clock::new_id(), "to": self.to, "thread": thread, "answers": answers, "give": give,
            "give_words": self.give_words, "ask": ask, "ask_words": self.ask_words,
        });
        let answer = remote.post("swaps", &body)?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.line(&text(&answer, "id"))?;
        tarn.out.say(&format!(
            "Proposed to {}. It is over {} without an answer.",
            text(&answer, "with"),
            text(&answer, "ends_at")
        ));
        Ok(())
    }
}

fn asked(remote: &mut Remote, typed: &str) -> Outcome<Value> {
    let (notice, numbers) = stock_and_numbers(typed)?;
    let (_, id) = find(remote, "notice", notice, &[("notices", "notices", "id")])?;
    Ok(json!({ "notice": id, "numbers": heads(&numbers) }))
}
