//! `tarn swap decline` and `tarn swap withdraw`.

use clap::Args;
use serde_json::json;

use super::swap_id;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Declines a swap that was proposed to you.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn swap decline 3f2a91c4")]
pub struct Decline {
    /// Which swap: its id, or the beginning or end of it
    swap: String,
}

/// Withdraws a swap that you proposed; or one that was agreed, while no parcel has left.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn swap withdraw 3f2a91c4")]
pub struct Withdraw {
    /// Which swap: its id, or the beginning or end of it
    swap: String,
}

impl Decline {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        answer(tarn, &self.swap, "decline", "Declined.")
    }
}

impl Withdraw {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        answer(tarn, &self.swap, "withdraw", "Withdrawn.")
    }
}

fn answer(tarn: &Tarn, swap: &str, verb: &str, says: &str) -> Outcome {
    let mut remote = session::open(tarn)?;
    let id = swap_id(&mut remote, swap)?;
    let answer = remote.post(&format!("swaps/{id}/{verb}"), &json!({}))?;
    if tarn.out.is_json() {
        return tarn.out.data(&answer);
    }
    tarn.out.say(says);
    Ok(())
}
