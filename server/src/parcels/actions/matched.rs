//! An arrival and the parcel that another room sent are one: each room is told what the other says. Whichever came
//! first, the same two decisions follow.

use serde_json::{Value, json};
use tarn_domain::catalogue::Body;
use tarn_domain::parcels::{ParcelMatched, ParcelReceived, sent_rows, told_apart, total};
use tarn_domain::streams::{AccountId, At, OpId, ParcelId, StreamId, parse_uuid};

use super::super::{jobs, store};
use crate::lineage;
use crate::platform::jobs::Job;
use crate::platform::messages::{self, Line};
use crate::platform::{Result, Write, errors::Problem};
use crate::rooms;
use crate::streams::{self, Following, Incoming, Path, following_id};

/// An op may have made two sides of a parcel known. What came back after a restore too: the decisions may be lost that
/// nobody had pulled, in one of the rooms or in both.
pub fn news(f: &Following<'_>) -> Vec<Job> {
    let parcel = match &f.op.body {
        Body::ParcelArrived(b) => b.parcel,
        Body::ParcelSent(b) => b.parcel,
        Body::ParcelMatched(b) if f.is_back => b.parcel,
        Body::ParcelReceived(b) if f.is_back => b.parcel,
        // another arrival may count now
        Body::Withdrawn(b) => match f.memory.entry(b.entry).and_then(|entry| entry.body.as_deref()) {
            Some(Body::ParcelArrived(old)) => old.parcel,
            _ => return Vec::new(),
        },
        _ => return Vec::new(),
    };
    vec![Job::new(jobs::MATCH, json!({"parcel": parcel}))]
}

/// The two sides of a parcel.
struct Pair {
    giver: StreamId,
    receiver: StreamId,
}

/// The decision that tells the giver's room of an arrival.
fn received_id(arrived: OpId, sent: OpId) -> OpId {
    following_id(arrived, &format!("parcel.received {sent}"))
}

/// The room that sent it, and the room of the addressee in which it arrived, if they don't both know of each other. A
/// room that knows already is the one, whatever else arrived under the same id.
async fn pair(w: &Write, parcel: ParcelId) -> Result<Option<Pair>> {
    let sides = store::sides(w.tx(), parcel).await?;
    let Some(sender) = sides.iter().find(|side| side.state.sent.is_some()) else { return Ok(None) };
    let (Some(sent), Some(to)) = (sender.state.sent, sender.state.to_account) else { return Ok(None) };
    let giver = sender.stream;
    let mut theirs = Vec::new();
    for side in sides.iter().filter(|side| side.stream != giver) {
        if let Some((arrived, _)) = side.state.arrived
            && rooms::store::is_keeper(w.tx(), side.stream, to).await?
        {
            theirs.push((side, arrived));
        }
    }
    let knows = theirs.iter().find(|(side, _)| side.state.matched.is_some());
    let one = match (knows, sender.state.received.is_some()) {
        (Some(_), true) => None,
        (Some((side, _)), false) => Some(side.stream),
        (None, false) => theirs.first().map(|(side, _)| side.stream),
        (None, true) => {
            let (held, _) = streams::room(w.ctx(), giver).await?;
            let told = |arrived: OpId| held.memory.entry(received_id(arrived, sent)).is_some();
            theirs.iter().find(|(_, arrived)| told(*arrived)).map(|(side, _)| side.stream)
        }
    };
    Ok(one.map(|receiver| Pair { giver, receiver }))
}

/// Tells each of the two rooms what the other says: `{parcel}`.
pub async fn matched(w: &mut Write, payload: Value) -> Result<()> {
    let Some(parcel) = payload.get("parcel").and_then(Value::as_str).and_then(parse_uuid).map(ParcelId)
    else {
        return Ok(());
    };
    let Some(Pair { giver, receiver }) = pair(w, parcel).await? else { return Ok(()) };
    let mut both = [giver, receiver];
    both.sort_unstable();
    for room in both {
        streams::touch_up(w, room).await?;
    }
    let state =
        |w: &mut Write, room| streams::in_write(w, room, |memory| memory.parcel(parcel).cloned()).flatten();
    let (Some(sent), Some(came)) = (state(w, giver), state(w, receiver)) else { return Ok(()) };
    let (Some(sent_by), Some((arrived, at)), Some(stock)) = (sent.sent, came.arrived, came.stock) else {
        return Ok(());
    };
    if sent.received.is_some() && came.matched.is_some() {
        return Ok(());
    }
    let rows = sent_rows(&sent.rows);
    let told_apart = told_apart(&rows, &came.alive);
    let differs = total(&rows) != total(came.alive.iter().chain(&came.dead));
    let ancestry = sent.ancestry.clone();
    let now = At::from_seconds(w.now.div_euclid(1000));
    let here = Body::ParcelMatched(ParcelMatched {
        parcel,
        stock,
        sent: rows,
        ancestry: ancestry.clone(),
        told_apart,
        relies: vec![arrived],
    });
    let there = Body::ParcelReceived(ParcelReceived { parcel, at, alive: came.alive, dead: came.dead });
    let by = Path::Decision(sent.to_account.unwrap_or(AccountId(uuid::Uuid::nil())));
    for room in both {
        let (knows, id, body) = if room == receiver {
            (came.matched.is_some(), following_id(arrived, &format!("parcel.matched {sent_by}")), &here)
        } else {
            (sent.received.is_some(), received_id(arrived, sent_by), &there)
        };
        if !knows {
            // of which brood they are holds since they came: a count since then counts that
            let when = if room == receiver { at } else { now };
            let decision = Incoming { id, at: Some(when), body: body.clone() };
            streams::append(w, room, vec![decision], by).await?;
        }
    }
    let copies = serde_json::to_value(&ancestry).map_err(|e| Problem::failed("writing a job", e))?;
    w.enqueue(Job::new(jobs::FRESHEN, json!({"room": receiver, "ancestry": copies})));
    if differs {
        for room in both {
            for keeper in rooms::store::keepers_of(w.tx(), room).await? {
                let text = "Of a parcel of yours not as many arrived as were sent. Both numbers stay; see what each side \
                    says.";
                let fact = format!("parcels:differ:{parcel}");
                let href = Some(format!("/parcels/{parcel}"));
                messages::tell(w, Line { account: keeper.0, fact: &fact, text, href }).await?;
            }
        }
    }
    Ok(())
}

/// What the homes of the ancestors say by now, if it is not what travelled: `{room, ancestry}`.
pub async fn freshen(w: &mut Write, payload: Value) -> Result<()> {
    let Some(room) = payload.get("room").and_then(Value::as_str).and_then(parse_uuid).map(StreamId) else {
        return Ok(());
    };
    let copies = payload.get("ancestry").cloned().unwrap_or_default();
    let copies: Vec<_> = serde_json::from_value(copies).map_err(|e| Problem::failed("reading a job", e))?;
    for word in lineage::actions::differing(w, room, &copies).await? {
        let word = serde_json::to_value(&word).map_err(|e| Problem::failed("writing a job", e))?;
        w.enqueue(Job::new(lineage::jobs::TELL_ONE, word));
    }
    Ok(())
}
