//! Every query over parcels, notices, threads and swaps.

pub mod notices;
pub mod swaps;
pub mod threads;

use sea_orm::ActiveValue::Set;
use sea_orm::{
    ColumnTrait, Condition, ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder, Statement,
};
use tarn_domain::parcels::ParcelState;
use tarn_domain::streams::{AccountId, ParcelId, StreamId};

use crate::entities::{accounts, parcels};
use crate::platform::{Result, errors::Problem};

/// One side of a parcel.
pub struct Side {
    /// Whose.
    pub stream: StreamId,
    /// What it tells.
    pub state: ParcelState,
}

/// Both sides of a parcel, as far as they are told; by room.
pub async fn sides(conn: &impl ConnectionTrait, id: ParcelId) -> Result<Vec<Side>> {
    let rows = parcels::Entity::find()
        .filter(parcels::Column::Id.eq(id.0))
        .order_by_asc(parcels::Column::Stream)
        .all(conn)
        .await?;
    rows.into_iter()
        .map(|row| {
            let state =
                serde_json::from_str(&row.body).map_err(|e| Problem::failed("reading a parcel", e))?;
            Ok(Side { stream: StreamId(row.stream), state })
        })
        .collect()
}

/// The parcels sent to an account or told of by these rooms, newest id first.
pub async fn ids_for(
    conn: &impl ConnectionTrait,
    account: AccountId,
    rooms: &[StreamId],
) -> Result<Vec<ParcelId>> {
    let rooms = rooms.iter().map(|room| room.0);
    let any = Condition::any()
        .add(parcels::Column::ToAccount.eq(account.0))
        .add(parcels::Column::Stream.is_in(rooms));
    let rows = parcels::Entity::find().filter(any).order_by_desc(parcels::Column::Id).all(conn).await?;
    let mut ids: Vec<ParcelId> = rows.into_iter().map(|row| ParcelId(row.id)).collect();
    ids.dedup();
    Ok(ids)
}

/// The login names of who keeps a room.
pub async fn logins_of(conn: &impl ConnectionTrait, room: StreamId) -> Result<Vec<String>> {
    let keepers = crate::rooms::store::keepers_of(conn, room).await?;
    let rows = accounts::Entity::find()
        .filter(accounts::Column::Id.is_in(keepers.into_iter().map(|keeper| keeper.0)))
        .order_by_asc(accounts::Column::LoginName)
        .all(conn)
        .await?;
    Ok(rows.into_iter().map(|row| row.login_name).collect())
}

/// Parcels that have left, whose receiver or giver has not said what came of them, and that no officer settled; also
/// those of which not as many arrived as were sent.
pub async fn sent_and_not_settled(conn: &impl ConnectionTrait) -> Result<Vec<ParcelId>> {
    let rows = parcels::Entity::find()
        .filter(parcels::Column::IsSent.eq(true))
        .filter(parcels::Column::IsOpen.eq(true))
        .order_by_asc(parcels::Column::Id)
        .all(conn)
        .await?;
    Ok(rows.into_iter().map(|row| ParcelId(row.id)).collect())
}

/// How many parcels that a room sent are open, as far as it knows.
pub async fn open_of_room(conn: &impl ConnectionTrait, room: StreamId) -> Result<u64> {
    let open = parcels::Entity::find()
        .filter(parcels::Column::Stream.eq(room.0))
        .filter(parcels::Column::IsSent.eq(true))
        .filter(parcels::Column::IsOpen.eq(true));
    Ok(open.count(conn).await?)
}

/// The parcels of a room name nobody any more.
pub async fn forget_names(conn: &impl ConnectionTrait, room: StreamId) -> Result<()> {
    for row in parcels::Entity::find().filter(parcels::Column::Stream.eq(room.0)).all(conn).await? {
        let mut state: ParcelState =
            serde_json::from_str(&row.body).map_err(|e| Problem::failed("reading a parcel", e))?;
        if state.to.take().is_some() {
            let body = serde_json::to_string(&state).map_err(|e| Problem::failed("writing a parcel", e))?;
            let blank = parcels::ActiveModel {
                stream: Set(row.stream),
                id: Set(row.id),
                body: Set(body),
                ..Default::default()
            };
            parcels::Entity::update(blank).exec(conn).await?;
        }
    }
    Ok(())
}

/// A parcel that has left and has not arrived, as the room that sent it tells it.
pub struct Open {
    /// Which.
    pub parcel: ParcelId,
    /// For whom.
    pub to: AccountId,
    /// What was sent.
    pub state: ParcelState,
}

/// Sent, and no room that the addressee keeps has it: what another room says of it counts for nothing.
const OPEN: &str = "SELECT p.* FROM parcels p WHERE p.is_sent AND p.to_account IS NOT NULL AND NOT EXISTS (\
    SELECT 1 FROM parcels a JOIN room_keepers k ON k.room = a.stream AND k.account = p.to_account \
    AND k.until_ms IS NULL WHERE a.id = p.id AND a.is_arrived)";

/// Parcels on their way, to one account or to all.
pub async fn open(conn: &impl ConnectionTrait, to: Option<AccountId>) -> Result<Vec<Open>> {
    let backend = conn.get_database_backend();
    let query = match to {
        Some(to) => {
            Statement::from_sql_and_values(backend, format!("{OPEN} AND p.to_account = $1"), [to.0.into()])
        }
        None => Statement::from_string(backend, OPEN),
    };
    let rows = parcels::Entity::find().from_raw_sql(query).all(conn).await?;
    rows.into_iter()
        .filter_map(|row| Some((row.to_account?, row)))
        .map(|(to, row)| {
            let state =
                serde_json::from_str(&row.body).map_err(|e| Problem::failed("reading a parcel", e))?;
            Ok(Open { parcel: ParcelId(row.id), to: AccountId(to), state })
        })
        .collect()
}
