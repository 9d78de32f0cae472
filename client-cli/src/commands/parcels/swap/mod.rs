//! Swaps: agreed exchanges between keepers. All but what goes into the bag needs a network.

mod agree;
mod answer;
mod list;
mod pack;
mod propose;
mod say;
mod show;

use serde_json::{Value, json};

use super::online::{find, heads};
use super::pack::stock_and_numbers;
use crate::failure::Outcome;
use crate::remote::Remote;
use crate::tarn::Tarn;

crate::commands::verbs! {
    /// `tarn swap …`
    Swap {
        /// Your swaps, the newest first
        List(list::List),
        /// One swap: what each side gives, and how the parcels stand
        Show(show::Show),
        /// Propose a swap, or otherwise than was proposed to you
        Propose(propose::Propose),
        /// Agree to what was proposed to you
        Agree(agree::Agree),
        /// Decline what was proposed to you
        Decline(answer::Decline),
        /// Withdraw what you proposed, or what was agreed while nothing has left
        Withdraw(answer::Withdraw),
        /// Write to the other one of a swap
        Say(say::Say),
        /// Your fish of an agreed swap are in the bag
        Pack(pack::Pack),
    }
}

/// The swap that is meant.
fn swap_id(remote: &mut Remote, typed: &str) -> Outcome<String> {
    find(remote, "swap", typed, &[("swaps", "swaps", "id")]).map(|(_, id)| id)
}

/// Fish typed as STOCK=NUMBERS, as the server reads them.
fn given(tarn: &mut Tarn, fish: &[String]) -> Outcome<Vec<Value>> {
    if fish.is_empty() {
        return Ok(Vec::new());
    }
    let room = tarn.room()?;
    let one = |text: &String| {
        let (stock, numbers) = stock_and_numbers(text)?;
        let (id, _) = tarn.stock(&room, stock)?;
        Ok(json!({ "offer": { "room": room.id, "stock": id }, "numbers": heads(&numbers) }))
    };
    fish.iter().map(one).collect()
}
