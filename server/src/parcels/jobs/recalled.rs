//! A sign-off was recalled: the rooms that got fish of that unit since are told, in their records and on the pages of
//! their keepers; the stewards of the unit's clubs are told which parcels left. Other rooms are not named to anybody.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;
use tarn_domain::catalogue::Body;
use tarn_domain::parcels::{ParcelRecalled, ParcelState};
use tarn_domain::quarantine::SignedOff;
use tarn_domain::rooms::{Came, StockState};
use tarn_domain::state::{Memory, view};
use tarn_domain::streams::{AccountId, At, OpId, ParcelId, StockId, StreamId, parse_uuid};

use crate::parcels::store;
use crate::platform::messages::{self, Line};
use crate::platform::{Result, Write};
use crate::quarantine;
use crate::rooms;
use crate::streams::{self, Incoming, Path, following_id};

/// Tells of a recall: `{room, sign_off}`. Done again, it tells nobody twice.
pub async fn recalled(w: &mut Write, payload: Value) -> Result<()> {
    let id = |name: &str| payload.get(name).and_then(Value::as_str).and_then(parse_uuid);
    let (Some(room), Some(sign_off)) = (id("room").map(StreamId), id("sign_off").map(OpId)) else {
        return Ok(());
    };
    // Read before anything is locked: the rooms that are written to are locked in ascending order.
    let found = {
        let (held, _) = streams::room(w.ctx(), room).await?;
        left_since(&held.memory, sign_off)
    };
    let Some((signed, parcels)) = found else { return Ok(()) };
    let mut receivers: BTreeMap<StreamId, Vec<ParcelId>> = BTreeMap::new();
    for (parcel, state) in &parcels {
        for side in store::sides(w.tx(), *parcel).await? {
            let is_theirs = match state.to_account {
                Some(to) => rooms::store::is_keeper(w.tx(), side.stream, to).await?,
                None => false,
            };
            if side.state.arrived.is_some() && side.stream != room && is_theirs {
                receivers.entry(side.stream).or_default().push(*parcel);
            }
        }
    }
    let now = At::from_seconds(w.now.div_euclid(1000));
    for (receiver, parcels) in &receivers {
        let decided = parcels.iter().map(|parcel| Incoming {
            id: following_id(sign_off, &format!("parcel.recalled {parcel}")),
            at: Some(now),
            body: Body::ParcelRecalled(ParcelRecalled { parcel: *parcel }),
        });
        streams::append(w, *receiver, decided.collect(), Path::Decision(signed.says.steward)).await?;
    }
    let to: BTreeSet<AccountId> = parcels.values().filter_map(|state| state.to_account).collect();
    for account in to {
        let text = "Fish that came to you in a parcel are from a unit whose sign-off was recalled since. Keep them, and \
            whatever shares their water, apart; a health steward says what is next.";
        say(w, account, sign_off, text).await?;
    }
    let text = match parcels.len() {
        0 => "A sign-off of your club was recalled by entries that came in later. No parcel has left the unit since.".into(),
        1 => "A sign-off of your club was recalled by entries that came in later. One parcel has left the unit since; its \
              receiver has been told."
            .to_owned(),
        n => format!(
            "A sign-off of your club was recalled by entries that came in later. {n} parcels have left the unit since; \
             their receivers have been told."
        ),
    };
    for steward in quarantine::store::stewards_in(w.tx(), signed.says.club).await? {
        say(w, steward, sign_off, &text).await?;
    }
    Ok(())
}

async fn say(w: &Write, account: AccountId, sign_off: OpId, text: &str) -> Result<()> {
    let fact = format!("parcels:recalled:{sign_off}");
    messages::tell(w, Line { account: account.0, fact: &fact, text, href: Some("/units".into()) }).await
}

/// The sign-off, and the parcels with fish of its unit that have left since.
fn left_since(memory: &Memory, sign_off: OpId) -> Option<(SignedOff, BTreeMap<ParcelId, ParcelState>)> {
    let facts = memory.facts()?;
    let signed = facts.signed.iter().find(|signed| signed.op == sign_off)?.clone();
    let states = view(memory.states());
    let fish = descended(&states.stocks, signed.says.members.iter().copied());
    let has_left = |state: &ParcelState| {
        state.sent.is_some()
            && state.handed.is_some_and(|(_, at)| at >= signed.at)
            && state.rows.iter().any(|row| fish.contains(&row.stock))
    };
    let parcels = states.parcels.iter().filter(|(_, state)| has_left(state));
    let parcels = parcels.map(|(id, state)| (*id, (*state).clone())).collect();
    Some((signed, parcels))
}

/// These stocks, their parts, and what their fish joined.
fn descended(
    stocks: &BTreeMap<StockId, &StockState>,
    from: impl Iterator<Item = StockId>,
) -> BTreeSet<StockId> {
    let mut all: BTreeSet<StockId> = from.collect();
    loop {
        let more: Vec<StockId> = stocks
            .iter()
            .filter(|(id, _)| !all.contains(id))
            .filter(|(_, state)| {
                let part = matches!(state.came, Some(Came::Split { of }) if all.contains(&of));
                part || state.joined.iter().any(|(_, other)| all.contains(other))
            })
            .map(|(id, _)| *id)
            .collect();
        if more.is_empty() {
            return all;
        }
        all.extend(more);
    }
}
