//! What keepers write on their devices and on pages, at random, from what they see; and what the server decides.

use tarn_domain::catalogue::{Body, Op};
use tarn_domain::parcels::{PackedRow, ParcelPacked, ParcelSent};
use tarn_domain::quarantine::HomeClubSet;
use tarn_domain::rooms::ops::{
    StockCounted, StockDescribed, StockEstablished, StockLost, StockMoved, StockSplit, TankAdded,
    TankDescribed,
};
use tarn_domain::rooms::{Count, Node, Row, Sex, words::Cause};
use tarn_domain::streams::{ClubId, OpId, ParcelId, Patch, StockId, TankId, Withdrawn};
use uuid::Uuid;

use crate::dice::Dice;

/// What somebody sees of a room.
#[derive(Default)]
pub struct View {
    tanks: Vec<TankId>,
    stocks: Vec<StockId>,
    ops: Vec<OpId>,
}

impl View {
    /// Reads it off the ops.
    pub fn of<'a>(ops: impl Iterator<Item = &'a Op>) -> Self {
        let mut view = Self::default();
        for op in ops {
            view.ops.push(op.id);
            match &op.body {
                Body::TankAdded(b) => view.tanks.push(b.tank),
                Body::StockEstablished(b) => view.stocks.push(b.stock),
                Body::StockSplit(b) => view.stocks.push(b.new),
                _ => {}
            }
        }
        // Chance must not hang on the order in which a map keeps them.
        view.tanks.sort_unstable();
        view.stocks.sort_unstable();
        view.ops.sort_unstable();
        view
    }
}

fn rows(dice: &mut Dice, least: i64, most: i64) -> Vec<Row> {
    let sexes: &[Sex] =
        dice.pick(&[&[Sex::Male][..], &[Sex::Female], &[Sex::Male, Sex::Female], &[Sex::Any]]);
    let n = |dice: &mut Dice| {
        Count::of(u32::try_from(dice.of_range(least..most)).expect("small")).expect("small")
    };
    sexes.iter().map(|&sex| Row { node: Node::Unassigned, sex, n: n(dice), about: false }).collect()
}

fn tank(tank: TankId, word: &str) -> Body {
    Body::TankAdded(TankAdded {
        tank,
        name: word.into(),
        stand: None,
        shelf: None,
        place: None,
        volume_ml: None,
        displacement_ml: None,
    })
}

/// A keeper's next entry, and whether they date it back (milliseconds). `fresh` is an id nobody has used.
pub fn entry(dice: &mut Dice, view: &View, fresh: Uuid) -> (Body, Option<i64>) {
    let back = dice.pick(&[None, None, None, Some(180_000), Some(3_600_000), Some(86_400_000)]);
    let chance = dice.below(100);
    if view.tanks.is_empty() || chance < 12 {
        return (tank(TankId(fresh), "tank"), None);
    }
    if view.stocks.is_empty() || chance < 25 {
        let body = StockEstablished {
            stock: StockId(fresh),
            name: None,
            keeping: None,
            species: None,
            form: None,
            since: None,
            founders: None,
            rows: rows(dice, 0, 9),
            tank: Some(dice.pick(&view.tanks)),
        };
        return (Body::StockEstablished(body), back);
    }
    let stock = dice.pick(&view.stocks);
    let body = match chance {
        25..40 => Body::StockLost(StockLost {
            stock,
            rows: rows(dice, 1, 4),
            cause: Cause::Unknown,
            reason: None,
            incident: None,
        }),
        40..50 => Body::StockCounted(StockCounted { stock, rows: rows(dice, 0, 9), all: dice.percent(50) }),
        50..62 => {
            let (from, to) = (Some(dice.pick(&view.tanks)), Some(dice.pick(&view.tanks)));
            Body::StockMoved(StockMoved { stock, from, to, companion: false })
        }
        62..68 => {
            let (new, rows) = (StockId(fresh), rows(dice, 0, 3));
            Body::StockSplit(StockSplit { stock, new, rows, tank: Some(dice.pick(&view.tanks)), name: None })
        }
        68..72 => {
            let n = Count::of(1).expect("small");
            let rows = vec![PackedRow { stock, node: Node::Unassigned, sex: Sex::Male, n }];
            return (Body::ParcelPacked(ParcelPacked { parcel: ParcelId(fresh), to: None, rows }), back);
        }
        72..90 => {
            let name = Patch::Set(format!("{}", fresh.as_u128() & 0xffff_ffff));
            let (keeping, virgin) = <(Patch<_>, Patch<_>)>::default();
            let (species, form, note) = <(Patch<_>, Patch<_>, Patch<_>)>::default();
            return (
                Body::StockDescribed(StockDescribed { stock, name, keeping, species, form, note, virgin }),
                None,
            );
        }
        _ => return (Body::Withdrawn(Withdrawn { entry: dice.pick(&view.ops), why: None }), None),
    };
    (body, back)
}

/// An edit on a page.
pub fn page(dice: &mut Dice, view: &View, fresh: Uuid) -> Body {
    if view.tanks.is_empty() || dice.percent(50) {
        return tank(TankId(fresh), "page");
    }
    let name = Patch::Set(format!("{}", fresh.as_u128() & 0xffff_ffff));
    let (stand, shelf, place) = <(Patch<_>, Patch<_>, Patch<_>)>::default();
    let (volume_ml, displacement_ml) = <(Patch<_>, Patch<_>)>::default();
    let tank = dice.pick(&view.tanks);
    Body::TankDescribed(TankDescribed { tank, name, stand, shelf, place, volume_ml, displacement_ml })
}

/// What the server decides next: the first parcel that is packed and not sent leaves; or the room comes to a club,
/// which rests on any entry.
pub fn decision(dice: &mut Dice, ops: &[&Op], fresh: Uuid) -> Option<Body> {
    let sent =
        |parcel: ParcelId| ops.iter().any(|op| matches!(&op.body, Body::ParcelSent(b) if b.parcel == parcel));
    for op in ops {
        if let Body::ParcelPacked(b) = &op.body
            && !sent(b.parcel)
        {
            let (parcel, rows) = (b.parcel, b.rows.clone());
            let (ancestry, relies) = (Vec::new(), vec![op.id]);
            return Some(Body::ParcelSent(ParcelSent { parcel, to: None, rows, ancestry, relies }));
        }
    }
    let claims: Vec<OpId> =
        ops.iter().filter(|op| op.body.links().withdraws.is_none()).map(|op| op.id).collect();
    let (club, from) = (Some(ClubId(fresh)), ops.first()?.at);
    Some(Body::HomeClubSet(HomeClubSet { club, from, relies: vec![dice.pick(&claims)] }))
}
