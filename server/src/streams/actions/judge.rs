//! One op under the lock: whether it is there already, or refused, by what every op goes through and by the areas' rules.

use std::collections::HashMap;

use serde_json::json;
use tarn_domain::streams::{AccountId, At, DeviceId};

use super::append::{Outcome, Pass};
use super::intake::{self, Ready};
use super::path::Path;
use crate::platform::errors::Problem;
use crate::platform::{Result, write::Write};
use crate::streams::actions::areas::{Areas, Judging};
use crate::streams::refusals::{ID_TAKEN, OP_RELIED_ON};
use crate::streams::store::{self, cache::Held};

/// An op under an id that is taken, or one that is refused; none if it may be taken.
pub(super) async fn met(
    w: &Write,
    held: &mut Held,
    areas: &Areas,
    pass: &mut Pass,
    devices: &HashMap<DeviceId, AccountId>,
    ready: &Ready,
) -> Result<Option<Outcome>> {
    let id = ready.op.id;
    if let Some(entry) = held.memory.entry(id) {
        let seq = entry.seq;
        let fresh = pass.rows.waiting.iter().find(|(new, ..)| *new == id).map(|(_, _, s)| s.clone());
        let stored = match fresh {
            Some(stored) => Some(stored),
            None => store::at(w.tx(), pass.stream, seq).await?,
        };
        return Ok(Some(match stored {
            Some(stored) if stored.text == ready.text => Outcome::Accepted(id, seq),
            // words in it were blanked, there or here: the same op all the same
            Some(stored)
                if (stored.was.is_some() || ready.was.is_some())
                    && stored.op_text().digest() == ready.op_text().digest() =>
            {
                Outcome::Accepted(id, seq)
            }
            stored => Outcome::Refused(Some(json!(id)), Problem::new(&ID_TAKEN), stored),
        }));
    }
    let no = |problem| Ok(Some(Outcome::Refused(Some(json!(id)), problem, None)));
    if let Err(problem) = intake::judge(ready, &pass.path, devices, &held.memory) {
        return no(problem);
    }
    // What comes back by receipt was judged when it first came.
    if ready.back.is_none() {
        let brought = matches!(pass.path, Path::Brought(_));
        let now = At::from_seconds(w.now.div_euclid(1000));
        for (kind, decide) in &areas.deciders {
            if *kind != ready.op.body.kind() {
                continue;
            }
            pass.refold(held);
            let judging = Judging { stream: pass.stream, memory: &held.memory, op: &ready.op, now, brought };
            if let Err(problem) = decide(&judging) {
                return no(problem);
            }
        }
        for (kind, ask) in &areas.asked {
            if *kind != ready.op.body.kind() {
                continue;
            }
            pass.refold(held);
            let judging = Judging { stream: pass.stream, memory: &held.memory, op: &ready.op, now, brought };
            if let Err(problem) = ask(w.tx(), &judging).await? {
                return no(problem);
            }
        }
        if let Some(target) = ready.links.withdraws {
            pass.refold(held);
            let Some(entry) = held.memory.entry(target) else { return Ok(None) };
            for fixes in &areas.fixed {
                if fixes(w.tx(), pass.stream, entry, &held.memory).await? {
                    return no(Problem::new(&OP_RELIED_ON));
                }
            }
        }
    }
    Ok(None)
}
