//! Every query over what is published of rooms.

use std::collections::{BTreeSet, HashMap};

use sea_orm::{ColumnTrait, Condition, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use tarn_domain::streams::{AccountId, StreamId};
use uuid::Uuid;

use crate::entities::{accounts, club_members, clubs, published_rooms, room_keepers, rooms};
use crate::lineage::actions::published::Audience;
use crate::platform::{Result, rows};

/// What is set for a room.
pub async fn of_room(conn: &impl ConnectionTrait, room: StreamId) -> Result<Option<published_rooms::Model>> {
    Ok(published_rooms::Entity::find_by_id(room.0).one(conn).await?)
}

/// Sets it.
pub async fn save(conn: &impl ConnectionTrait, row: published_rooms::Model) -> Result<()> {
    use published_rooms::Column;
    let over = [Column::Audience, Column::Named, Column::Version, Column::ChangedMs];
    rows::insert::<published_rooms::Entity>(conn, &[row], &over).await
}

/// A room publishes nothing any more.
pub async fn forget(conn: &impl ConnectionTrait, room: StreamId) -> Result<()> {
    published_rooms::Entity::delete_by_id(room.0).exec(conn).await?;
    Ok(())
}

/// The clubs that somebody belongs to.
pub async fn clubs_of(conn: &impl ConnectionTrait, account: AccountId) -> Result<Vec<clubs::Model>> {
    let mine =
        club_members::Entity::find().filter(club_members::Column::Account.eq(account.0)).all(conn).await?;
    let clubs = clubs::Entity::find().filter(clubs::Column::Id.is_in(mine.into_iter().map(|m| m.club)));
    Ok(clubs.order_by_asc(clubs::Column::Name).order_by_asc(clubs::Column::Id).all(conn).await?)
}

/// Who keeps rooms now.
async fn keepers_of(conn: &impl ConnectionTrait, rooms: &[Uuid]) -> Result<Vec<room_keepers::Model>> {
    let keepers = room_keepers::Entity::find()
        .filter(room_keepers::Column::Room.is_in(rooms.iter().copied()))
        .filter(room_keepers::Column::UntilMs.is_null());
    Ok(keepers.all(conn).await?)
}

/// The clubs of a room: those that its keepers belong to, by name.
pub async fn clubs_of_room(conn: &impl ConnectionTrait, room: StreamId) -> Result<Vec<clubs::Model>> {
    let keepers = keepers_of(conn, &[room.0]).await?;
    let members = club_members::Entity::find()
        .filter(club_members::Column::Account.is_in(keepers.into_iter().map(|keeper| keeper.account)));
    let ids: BTreeSet<Uuid> = members.all(conn).await?.into_iter().map(|member| member.club).collect();
    let clubs = clubs::Entity::find().filter(clubs::Column::Id.is_in(ids));
    Ok(clubs.order_by_asc(clubs::Column::Name).order_by_asc(clubs::Column::Id).all(conn).await?)
}

/// The rooms of which a keeper is in one of the clubs of this account.
async fn rooms_of_own_clubs(conn: &impl ConnectionTrait, account: AccountId) -> Result<BTreeSet<Uuid>> {
    let clubs = clubs_of(conn, account).await?;
    let members = club_members::Entity::find()
        .filter(club_members::Column::Club.is_in(clubs.into_iter().map(|club| club.id)))
        .all(conn)
        .await?;
    let people: BTreeSet<Uuid> = members.into_iter().map(|member| member.account).collect();
    let keepers = room_keepers::Entity::find()
        .filter(room_keepers::Column::Account.is_in(people))
        .filter(room_keepers::Column::UntilMs.is_null());
    Ok(keepers.all(conn).await?.into_iter().map(|keeper| keeper.room).collect())
}

/// The lists that this account may read, by the id of their room, after one of them.
pub async fn readable(
    conn: &impl ConnectionTrait,
    account: AccountId,
    after: Option<Uuid>,
    most: u64,
) -> Result<Vec<published_rooms::Model>> {
    use published_rooms::Column;
    let near = rooms_of_own_clubs(conn, account).await?;
    let to_clubs =
        Condition::all().add(Column::Audience.eq(Audience::Club.as_str())).add(Column::Room.is_in(near));
    let may = Condition::any().add(Column::Audience.eq(Audience::Everyone.as_str())).add(to_clubs);
    let mut query = published_rooms::Entity::find().filter(may);
    if let Some(after) = after {
        query = query.filter(Column::Room.gt(after));
    }
    Ok(query.order_by_asc(Column::Room).limit(most).all(conn).await?)
}

/// What others read of the keeper whose name stands on each list: of those who still keep its room, and have an account.
pub async fn names(
    conn: &impl ConnectionTrait,
    lists: &[published_rooms::Model],
) -> Result<HashMap<Uuid, String>> {
    let named = lists.iter().filter_map(|list| list.named);
    let people = accounts::Entity::find()
        .filter(accounts::Column::Id.is_in(named))
        .filter(accounts::Column::ClosedMs.is_null())
        .all(conn)
        .await?;
    let rooms: Vec<Uuid> = lists.iter().map(|list| list.room).collect();
    let keepers = keepers_of(conn, &rooms).await?;
    let shown = |list: &published_rooms::Model| {
        let keeps = keepers.iter().any(|k| k.room == list.room && Some(k.account) == list.named);
        let person = people.iter().find(|person| Some(person.id) == list.named && keeps)?;
        Some((list.room, person.shown_name.clone()))
    };
    Ok(lists.iter().filter_map(shown).collect())
}

/// The name of a room's home club.
pub async fn home_club(conn: &impl ConnectionTrait, room: StreamId) -> Result<Option<String>> {
    let Some(club) = rooms::Entity::find_by_id(room.0).one(conn).await?.and_then(|room| room.home_club)
    else {
        return Ok(None);
    };
    Ok(clubs::Entity::find_by_id(club).one(conn).await?.map(|club| club.name))
}
