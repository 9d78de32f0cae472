//! Which rows are kept of tanks and stocks, and the comparison of all rows with the state. Rows are written only
//! where they changed; nothing is decided here.

use futures_util::future::join4;
use sea_orm::{ColumnTrait, DatabaseTransaction, EntityTrait, QueryFilter};
use tarn_domain::rooms::{Numbers, Sex, Stay, StockState, TankState};
use tarn_domain::state::{EntityState, Memory};
use tarn_domain::streams::{Entity as Thing, StreamId};
use uuid::Uuid;

use crate::entities::{room_plumbing, room_stays, room_stocks, room_tanks};
use crate::platform::Result;
use crate::platform::projection::{differences as differ, save};
use crate::streams::Projecting;

/// All rows of some things.
#[derive(Default)]
struct Rows {
    tanks: Vec<room_tanks::Model>,
    plumbing: Vec<room_plumbing::Model>,
    stocks: Vec<room_stocks::Model>,
    stays: Vec<room_stays::Model>,
}

impl Rows {
    /// The rows of a state; of those that there are many of, only what the other state of the same thing has not.
    fn add(&mut self, stream: StreamId, thing: Thing, state: &EntityState, other: Option<&EntityState>) {
        match state {
            EntityState::Tank(tank) if tank.made.is_some() => {
                self.tanks.push(tank_row(stream, thing.id, tank));
                self.plumbing.extend(plumbing_rows(stream, thing.id, tank));
            }
            EntityState::Stock(stock) if stock.made.is_some() => {
                let there: &[Stay] = match other {
                    Some(EntityState::Stock(other)) if other.made.is_some() => &other.stays,
                    _ => &[],
                };
                self.stocks.push(stock_row(stream, thing.id, stock));
                self.stays.extend(stay_rows(stream, thing.id, stock, there));
            }
            _ => {}
        }
    }
}

fn tank_row(stream: StreamId, tank: Uuid, t: &TankState) -> room_tanks::Model {
    room_tanks::Model {
        stream: stream.0,
        tank,
        name: t.name.clone().unwrap_or_default(),
        stand: t.stand.clone(),
        shelf: t.shelf.clone(),
        place: t.place.clone(),
        volume_ml: t.volume_ml.map(|v| i64::from(v.0)),
        system: t.system().map(|s| s.0),
    }
}

fn plumbing_rows(stream: StreamId, tank: Uuid, t: &TankState) -> impl Iterator<Item = room_plumbing::Model> {
    t.plumbing.iter().zip(0..).map(move |(p, ordinal)| room_plumbing::Model {
        stream: stream.0,
        tank,
        ordinal,
        from_s: p.from.seconds(),
        until_s: p.until.map(|u| u.seconds()),
        system: p.system.map(|s| s.0),
    })
}

fn stock_row(stream: StreamId, stock: Uuid, s: &StockState) -> room_stocks::Model {
    let of = |sex| Numbers::of_sex(&s.numbers, sex);
    room_stocks::Model {
        stream: stream.0,
        stock,
        name: s.name.clone().unwrap_or_default(),
        species: s.species.clone(),
        kind: s.keeping.map(|k| k.word().to_owned()),
        males: of(Sex::Male),
        females: of(Sex::Female),
        unsexed: of(Sex::Unsexed),
        eggs: of(Sex::Eggs),
        any_debt: of(Sex::Any),
        total: s.numbers.total(),
        tank: s.place().flatten().map(|t| t.0),
        rows: serde_json::to_string(&s.numbers).unwrap_or_default(),
    }
}

fn stay_rows(
    stream: StreamId,
    stock: Uuid,
    s: &StockState,
    there: &[Stay],
) -> impl Iterator<Item = room_stays::Model> {
    let there = there.iter().map(Some).chain(std::iter::repeat(None));
    let new = s.stays.iter().zip(0..).zip(there).filter(|((stay, _), there)| Some(*stay) != *there);
    new.map(move |((stay, ordinal), _)| room_stays::Model {
        stream: stream.0,
        stock,
        ordinal,
        from_s: stay.from.seconds(),
        until_s: stay.until.map(|u| u.seconds()),
        tank: stay.tank.map(|t| t.0),
        doubtful: stay.doubtful,
    })
}

/// Writes the rows that changed.
pub async fn project(p: &Projecting<'_>) -> Result<()> {
    if p.anew {
        clear(p.tx, p.stream).await?;
    }
    let (mut old, mut new) = (Rows::default(), Rows::default());
    for change in p.changed {
        if let Some(before) = &change.before {
            old.add(p.stream, change.entity, before, Some(&change.after));
        }
        new.add(p.stream, change.entity, &change.after, change.before.as_deref());
    }
    // While the database writes those of one table, the next are put together.
    let (tanks, plumbing, stocks, stays) = join4(
        save::<room_tanks::Entity, _>(p.tx, &old.tanks, new.tanks, tank_key),
        save::<room_plumbing::Entity, _>(p.tx, &old.plumbing, new.plumbing, plumbing_key),
        save::<room_stocks::Entity, _>(p.tx, &old.stocks, new.stocks, stock_key),
        save::<room_stays::Entity, _>(p.tx, &old.stays, new.stays, stay_key),
    )
    .await;
    tanks.and(plumbing).and(stocks).and(stays)
}

/// Takes out every row of a room.
pub async fn clear(tx: &DatabaseTransaction, stream: StreamId) -> Result<()> {
    let stream = stream.0;
    room_tanks::Entity::delete_many().filter(room_tanks::Column::Stream.eq(stream)).exec(tx).await?;
    room_plumbing::Entity::delete_many().filter(room_plumbing::Column::Stream.eq(stream)).exec(tx).await?;
    room_stocks::Entity::delete_many().filter(room_stocks::Column::Stream.eq(stream)).exec(tx).await?;
    room_stays::Entity::delete_many().filter(room_stays::Column::Stream.eq(stream)).exec(tx).await?;
    Ok(())
}

fn tank_key(row: &room_tanks::Model) -> Uuid {
    row.tank
}

fn plumbing_key(row: &room_plumbing::Model) -> (Uuid, i32) {
    (row.tank, row.ordinal)
}

fn stock_key(row: &room_stocks::Model) -> Uuid {
    row.stock
}

fn stay_key(row: &room_stays::Model) -> (Uuid, i32) {
    (row.stock, row.ordinal)
}

/// What differs between the rows and the state (nothing, or a fault).
pub async fn differences(
    conn: &DatabaseTransaction,
    stream: StreamId,
    memory: &Memory,
) -> Result<Vec<String>> {
    let mut rows = Rows::default();
    for (thing, state) in memory.states() {
        rows.add(stream, thing, state, None);
    }
    let tanks = room_tanks::Entity::find().filter(room_tanks::Column::Stream.eq(stream.0)).all(conn).await?;
    let plumbing =
        room_plumbing::Entity::find().filter(room_plumbing::Column::Stream.eq(stream.0)).all(conn).await?;
    let stocks =
        room_stocks::Entity::find().filter(room_stocks::Column::Stream.eq(stream.0)).all(conn).await?;
    let stays = room_stays::Entity::find().filter(room_stays::Column::Stream.eq(stream.0)).all(conn).await?;
    Ok([
        differ("room_tanks", tanks, rows.tanks, tank_key),
        differ("room_plumbing", plumbing, rows.plumbing, plumbing_key),
        differ("room_stocks", stocks, rows.stocks, stock_key),
        differ("room_stays", stays, rows.stays, stay_key),
    ]
    .concat())
}
