//! Every query of accounts.

mod factor;
mod links;
mod telling;
mod young;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::Expr;
use sea_orm::{
    ActiveModelTrait, ColumnTrait, Condition, ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter,
    QueryOrder,
};
use sha2::{Digest, Sha256};
use tarn_domain::accounts::LoginName;
use uuid::Uuid;

use crate::entities::{
    accounts, club_members, club_roles, clubs, devices, refresh_tokens, room_keepers, rooms, sessions,
};
use crate::platform::{Result, dialect};

pub use factor::{
    codes_left, end_factor, end_pending, factor, has_factor, insert_pending, lock_factor, pending,
    save_codes, save_factor, take_pending, use_code, with_factor,
};
pub use links::{
    accounts_at, end_links, forget_links, forget_links_of, forget_links_to, insert_link, is_proven,
    letters_by, letters_to, link, links_of, lock_account, set_email, take_link,
};
pub use telling::{
    calendar, calendar_by_hash, digests_due, end_calendar, lock_telling, lock_telling_by_proof,
    save_calendar, save_telling, telling, telling_by_proof, zone_of,
};
pub use young::{count_young_of, end_young, insert_young, set_shown_name, young, young_of};

/// A secret as it is given to people and programs.
pub fn secret_text(secret: &[u8; 32]) -> String {
    URL_SAFE_NO_PAD.encode(secret)
}

/// What is kept of such a secret.
pub fn secret_hash(text: &str) -> Vec<u8> {
    Sha256::digest(text.trim()).to_vec()
}

/// An account.
pub async fn account(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<accounts::Model>> {
    Ok(accounts::Entity::find_by_id(id).one(conn).await?)
}

/// The account that signs in with this name.
pub async fn account_by_login(
    conn: &impl ConnectionTrait,
    name: &LoginName,
) -> Result<Option<accounts::Model>> {
    Ok(accounts::Entity::find().filter(accounts::Column::LoginName.eq(name.as_str())).one(conn).await?)
}

/// Keeps a new account.
pub async fn insert_account(
    conn: &impl ConnectionTrait,
    row: accounts::ActiveModel,
) -> Result<accounts::Model> {
    Ok(row.insert(conn).await?)
}

/// Keeps another password.
pub async fn set_password(conn: &impl ConnectionTrait, account: Uuid, hash: &str) -> Result<()> {
    let row =
        accounts::ActiveModel { id: Set(account), password_hash: Set(hash.to_owned()), ..Default::default() };
    row.update(conn).await?;
    Ok(())
}

/// The same while the one of before still stands; false if it does not.
pub async fn replace_password(
    conn: &impl ConnectionTrait,
    account: Uuid,
    (old, new): (&str, &str),
) -> Result<bool> {
    let done = accounts::Entity::update_many()
        .col_expr(accounts::Column::PasswordHash, Expr::value(new))
        .filter(accounts::Column::Id.eq(account))
        .filter(accounts::Column::PasswordHash.eq(old))
        .exec(conn)
        .await?;
    Ok(done.rows_affected > 0)
}

/// Keeps a new session.
pub async fn insert_session(conn: &impl ConnectionTrait, row: sessions::ActiveModel) -> Result<()> {
    sessions::Entity::insert(row).exec_without_returning(conn).await?;
    Ok(())
}

/// A session, and nobody else may change it until the write ends.
pub async fn lock_session(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<sessions::Model>> {
    Ok(dialect::lock_rows(sessions::Entity::find_by_id(id), conn).one(conn).await?)
}

/// The sessions of an account that were not ended, the newest first.
pub async fn sessions_of(conn: &impl ConnectionTrait, account: Uuid) -> Result<Vec<sessions::Model>> {
    let query = sessions::Entity::find()
        .filter(sessions::Column::Account.eq(account))
        .filter(sessions::Column::EndedMs.is_null())
        .order_by_desc(sessions::Column::LastSeenMs);
    Ok(query.all(conn).await?)
}

/// Marks a session as ended, once.
pub async fn end_session(conn: &impl ConnectionTrait, id: Uuid, now: i64) -> Result<()> {
    sessions::Entity::update_many()
        .col_expr(sessions::Column::EndedMs, Expr::value(now))
        .filter(sessions::Column::Id.eq(id))
        .filter(sessions::Column::EndedMs.is_null())
        .exec(conn)
        .await?;
    Ok(())
}

/// Ends all sessions of an account but one.
pub async fn end_sessions_but(
    conn: &impl ConnectionTrait,
    account: Uuid,
    kept: Option<Uuid>,
    now: i64,
) -> Result<()> {
    sessions::Entity::update_many()
        .col_expr(sessions::Column::EndedMs, Expr::value(now))
        .filter(sessions::Column::Account.eq(account))
        .filter(sessions::Column::EndedMs.is_null())
        .filter(sessions::Column::Id.ne(kept.unwrap_or_default()))
        .exec(conn)
        .await?;
    Ok(())
}

/// A session was seen now.
pub async fn renew_session(conn: &impl ConnectionTrait, id: Uuid, now: i64) -> Result<()> {
    let row = sessions::ActiveModel { id: Set(id), last_seen_ms: Set(now), ..Default::default() };
    row.update(conn).await?;
    Ok(())
}

/// A refresh token by its hash.
pub async fn token(conn: &impl ConnectionTrait, hash: &[u8]) -> Result<Option<refresh_tokens::Model>> {
    Ok(refresh_tokens::Entity::find_by_id(hash.to_vec()).one(conn).await?)
}

/// Keeps a new refresh token.
pub async fn insert_token(conn: &impl ConnectionTrait, row: refresh_tokens::ActiveModel) -> Result<()> {
    refresh_tokens::Entity::insert(row).exec_without_returning(conn).await?;
    Ok(())
}

/// Whether one of the tokens that were given for this one was used.
pub async fn a_replacement_was_used(conn: &impl ConnectionTrait, hash: &[u8]) -> Result<bool> {
    let query = refresh_tokens::Entity::find()
        .filter(refresh_tokens::Column::Parent.eq(hash.to_vec()))
        .filter(refresh_tokens::Column::FirstUsedMs.is_not_null());
    Ok(query.count(conn).await? > 0)
}

/// Marks the first use of a token. Others that were given for the same one are of no use from now on: they count as
/// used long ago.
pub async fn use_token(conn: &impl ConnectionTrait, token: &refresh_tokens::Model, now: i64) -> Result<()> {
    let row = refresh_tokens::ActiveModel {
        hash: Set(token.hash.clone()),
        first_used_ms: Set(Some(now)),
        ..Default::default()
    };
    row.update(conn).await?;
    if let Some(parent) = &token.parent {
        refresh_tokens::Entity::update_many()
            .col_expr(refresh_tokens::Column::FirstUsedMs, Expr::value(0))
            .filter(refresh_tokens::Column::Parent.eq(parent.clone()))
            .filter(refresh_tokens::Column::FirstUsedMs.is_null())
            .exec(conn)
            .await?;
    }
    Ok(())
}

/// A club that an account belongs to.
pub struct Membership {
    /// Which.
    pub club: clubs::Model,
    /// The roles there.
    pub roles: Vec<String>,
    /// Whether they count only once there is a second factor, since the club wants one of its officers.
    pub waits: bool,
}

impl Membership {
    /// The roles that count.
    pub fn counting(&self) -> &[String] {
        if self.waits { &[] } else { &self.roles }
    }
}

/// The clubs an account belongs to, each with its roles there that count.
pub async fn clubs_of(
    conn: &impl ConnectionTrait,
    account: Uuid,
) -> Result<Vec<(clubs::Model, Vec<String>)>> {
    let all = memberships_of(conn, account, has_factor(conn, account).await?).await?.into_iter();
    Ok(all.map(|of| (of.club.clone(), of.counting().to_vec())).collect())
}

/// The clubs in which an account has roles that count only once it has a second factor, with those roles.
pub async fn waiting_roles_of(
    conn: &impl ConnectionTrait,
    account: Uuid,
) -> Result<Vec<(clubs::Model, Vec<String>)>> {
    let all = memberships_of(conn, account, has_factor(conn, account).await?).await?.into_iter();
    Ok(all.filter(|of| of.waits).map(|of| (of.club, of.roles)).collect())
}

/// The clubs an account belongs to, for who knows already whether it has a second factor.
pub async fn memberships_of(
    conn: &impl ConnectionTrait,
    account: Uuid,
    has_factor: bool,
) -> Result<Vec<Membership>> {
    let mine =
        club_members::Entity::find().filter(club_members::Column::Account.eq(account)).all(conn).await?;
    let roles = club_roles::Entity::find().filter(club_roles::Column::Account.eq(account)).all(conn).await?;
    let known = clubs::Entity::find().filter(clubs::Column::Id.is_in(mine.iter().map(|m| m.club)));
    let known = known.order_by_asc(clubs::Column::Name).all(conn).await?;
    let roles_in = |club: Uuid| roles.iter().filter(|r| r.club == club).map(|r| r.role.clone()).collect();
    let membership = |club: clubs::Model| {
        let roles: Vec<String> = roles_in(club.id);
        Membership { waits: !has_factor && club.officers_need_factor && !roles.is_empty(), club, roles }
    };
    Ok(known.into_iter().map(membership).collect())
}

/// The devices with which an account writes into rooms that it keeps, each with the room's name; what the server itself
/// writes with is left out.
pub async fn devices_of(conn: &impl ConnectionTrait, account: Uuid) -> Result<Vec<(devices::Model, String)>> {
    let query = devices::Entity::find()
        .filter(devices::Column::Account.eq(account))
        .filter(devices::Column::Kind.is_in(["client", "web"]))
        .filter(devices::Column::EndedMs.is_null())
        .order_by_asc(devices::Column::RegisteredMs);
    let all = query.all(conn).await?;
    let rooms = rooms_of(conn, account).await?;
    let name = |stream: Uuid| rooms.iter().find(|room| room.stream == stream).map(|room| room.name.clone());
    Ok(all.into_iter().filter_map(|device| name(device.stream).map(|name| (device, name))).collect())
}

/// The rooms an account keeps.
pub async fn rooms_of(conn: &impl ConnectionTrait, account: Uuid) -> Result<Vec<rooms::Model>> {
    let mine = room_keepers::Entity::find()
        .filter(room_keepers::Column::Account.eq(account))
        .filter(room_keepers::Column::UntilMs.is_null())
        .all(conn)
        .await?;
    let query = rooms::Entity::find().filter(rooms::Column::Stream.is_in(mine.iter().map(|k| k.room)));
    Ok(query.order_by_asc(rooms::Column::Name).all(conn).await?)
}

/// Whether somebody else who may log in has this address too.
pub async fn is_others_address(conn: &impl ConnectionTrait, address: &str, account: Uuid) -> Result<bool> {
    let others = accounts::Entity::find()
        .filter(accounts::Column::Email.eq(address))
        .filter(accounts::Column::Id.ne(account))
        .filter(accounts::Column::ClosedMs.is_null());
    Ok(others.count(conn).await? > 0)
}

/// Empties an account: what named somebody goes, the id stays, since others' records speak of it.
pub async fn close(conn: &impl ConnectionTrait, account: Uuid, shown_name: &str, now: i64) -> Result<()> {
    let theirs = sessions::Entity::delete_many().filter(sessions::Column::Account.eq(account));
    // their refresh tokens go with them
    theirs.exec(conn).await?;
    telling::forget(conn, account).await?;
    factor::end_factor(conn, account).await?;
    young::end_young(conn, account).await?;
    let row = accounts::ActiveModel {
        id: Set(account),
        // no login name looks like this
        login_name: Set(format!("({account})")),
        email: Set(String::new()),
        shown_name: Set(shown_name.to_owned()),
        password_hash: Set(String::new()),
        closed_ms: Set(Some(now)),
        ..Default::default()
    };
    accounts::Entity::update(row).exec(conn).await?;
    Ok(())
}

/// Sessions that are over and were last seen before this are forgotten; nobody is signed out by it. Those that nobody
/// ended are over when they were last seen before `idle_ms`.
pub async fn forget_sessions(conn: &impl ConnectionTrait, before_ms: i64, idle_ms: i64) -> Result<u64> {
    let over = Condition::any()
        .add(sessions::Column::EndedMs.is_not_null())
        .add(sessions::Column::LastSeenMs.lt(idle_ms));
    let old = sessions::Entity::delete_many().filter(sessions::Column::LastSeenMs.lt(before_ms)).filter(over);
    Ok(old.exec(conn).await?.rows_affected)
}
