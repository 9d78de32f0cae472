//! What was recorded of a unit while it was held: looks, signs, losses. Counted from the entries, for a steward to
//! read; what restarts a clock is the domain's.

use std::collections::BTreeSet;

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::is_named_loss;
use tarn_domain::rooms::{Stay, StockState, TurnKind};
use tarn_domain::state::{Entry, Memory, RoomStates};
use tarn_domain::streams::{At, Entity, OpId, Standing, StockId, TankId};

use crate::rooms::actions::read::Traces;

/// What was recorded between two instants.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Record {
    /// How often somebody looked.
    pub looks: usize,
    /// The longest time without a look, in seconds.
    pub longest_gap_s: i64,
    /// Signs: when last seen, and what.
    pub signs: Vec<(At, String)>,
    /// Fish lost under a named cause.
    pub lost_named: i64,
    /// Fish lost to disease, to nobody knows what, missing at a count, or that a steward holds for unexplained.
    pub lost_unexplained: i64,
}

/// The entries about these stocks and about the water they were in from then on, the newest first.
pub fn entries<'a>(
    memory: &'a Memory,
    states: &RoomStates<'_>,
    stocks: &[StockId],
    from: At,
) -> Vec<&'a Entry> {
    let mut all: Vec<&Entry> = Vec::new();
    let mut seen = BTreeSet::new();
    for id in stocks {
        let thing = Entity::from(*id);
        let own = memory.touching(thing).chain(memory.logging(thing));
        let stays = states.stocks.get(id).map(|stock| stock.stays.as_slice()).unwrap_or_default();
        let there = stays.iter().filter_map(|stay| Some((stay, stay.tank?)));
        let of_water = there.flat_map(|(stay, tank)| water(memory, states, stay, tank));
        all.extend(
            own.chain(of_water).filter(|e| e.linked.order.at >= from && seen.insert(e.linked.order.id)),
        );
    }
    all.sort_unstable_by_key(|entry| std::cmp::Reverse(entry.linked.order));
    all
}

/// Logs about a tank, and about the system it is on, while a stay lasted.
fn water<'a>(
    memory: &'a Memory,
    states: &RoomStates<'_>,
    stay: &Stay,
    tank: TankId,
) -> impl Iterator<Item = &'a Entry> + use<'a> {
    let system = states.tanks.get(&tank).and_then(|t| t.system_at(stay.from));
    let (from, until) = (stay.from, stay.until);
    let logs = memory.logging(tank.into()).chain(system.into_iter().flat_map(|s| memory.logging(s.into())));
    logs.filter(move |e| e.linked.order.at >= from && until.is_none_or(|until| e.linked.order.at < until))
}

/// Counts what these entries tell of the time between two instants, and whom the members lost in it; what was given
/// away is lost only to a steward who judged it so.
pub fn of(
    entries: &[OpId],
    traces: &Traces,
    members: &[&StockState],
    judged: &BTreeSet<OpId>,
    (from, to): (At, At),
) -> Record {
    let mut record = Record::default();
    let mut looks = vec![from];
    let live = entries.iter().filter_map(|op| traces.get(*op)).filter(|t| t.standing == Standing::Live);
    for trace in live.filter(|trace| trace.at <= to) {
        let Some(body) = trace.body.as_deref() else { continue };
        match body {
            Body::LookDone(_) if trace.at >= from => looks.push(trace.at),
            Body::SignSeen(sign) => {
                let seen = sign.last_seen.unwrap_or(trace.at);
                if seen >= from {
                    record.signs.push((seen, sign.sign.trim().to_owned()));
                }
            }
            _ => {}
        }
    }
    record.looks = looks.len() - 1;
    looks.push(to);
    looks.sort_unstable();
    let gaps = looks.windows(2).map(|pair| pair[1].seconds() - pair[0].seconds());
    record.longest_gap_s = gaps.max().unwrap_or(0);
    record.signs.sort_unstable();
    let turns = members.iter().flat_map(|stock| &stock.turns);
    for turn in turns.filter(|turn| turn.kind != TurnKind::Left || judged.contains(&turn.op)) {
        match is_named_loss(turn, judged).filter(|_| turn.at >= from && turn.at <= to) {
            Some(true) => record.lost_named -= turn.change,
            Some(false) => record.lost_unexplained -= turn.change,
            None => {}
        }
    }
    record
}
