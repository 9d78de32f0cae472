//! Every query of clubs.

mod invitations;
mod people;

use std::collections::HashMap;

use sea_orm::ActiveValue::Set;
use sea_orm::{
    ActiveModelTrait, ColumnTrait, Condition, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder,
    QuerySelect, QueryTrait,
};
use tarn_domain::clubs::Role;
use uuid::Uuid;

use crate::accounts::store::{has_factor, with_factor};
use crate::entities::{accounts, club_members, club_roles, club_rules, clubs};
use crate::platform::{Result, dialect};

pub use invitations::{
    end_invitation, end_invitations_by, end_invitations_for, forget_address, insert_invitation, invitation,
    invitations_of, invitations_with, lock_invitation, lock_invitation_by_id, use_invitation,
};
pub use people::{
    forget, insert_person, lines_of, list, list_after, lock_person, logins_of, off_the_list, person,
    person_of, save_person,
};

/// The clubs an account is a member of, by id.
pub async fn clubs_of(conn: &impl ConnectionTrait, account: Uuid) -> Result<Vec<club_members::Model>> {
    let mine = club_members::Entity::find().filter(club_members::Column::Account.eq(account));
    Ok(mine.order_by_asc(club_members::Column::Club).all(conn).await?)
}

/// Whether a club has no other member.
pub async fn is_alone(conn: &impl ConnectionTrait, club: Uuid, account: Uuid) -> Result<bool> {
    let others = club_members::Entity::find()
        .filter(club_members::Column::Club.eq(club))
        .filter(club_members::Column::Account.ne(account));
    Ok(others.one(conn).await?.is_none())
}

/// A club.
pub async fn club(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<clubs::Model>> {
    Ok(clubs::Entity::find_by_id(id).one(conn).await?)
}

/// A club by its name.
pub async fn club_named(conn: &impl ConnectionTrait, name: &str) -> Result<Option<clubs::Model>> {
    Ok(clubs::Entity::find().filter(clubs::Column::Name.eq(name)).one(conn).await?)
}

/// Nobody else may change the club until the write ends.
pub async fn lock_club(conn: &impl ConnectionTrait, id: Uuid) -> Result<()> {
    dialect::lock_rows(clubs::Entity::find_by_id(id), conn).one(conn).await?;
    Ok(())
}

/// Keeps a new club.
pub async fn insert_club(conn: &impl ConnectionTrait, row: clubs::ActiveModel) -> Result<clubs::Model> {
    Ok(row.insert(conn).await?)
}

/// The roles that a member holds beside being one, whether or not they count; none for a stranger.
pub async fn roles_held(conn: &impl ConnectionTrait, club: Uuid, account: Uuid) -> Result<Option<Vec<Role>>> {
    if club_members::Entity::find_by_id((club, account)).one(conn).await?.is_none() {
        return Ok(None);
    }
    let query = club_roles::Entity::find()
        .filter(club_roles::Column::Club.eq(club))
        .filter(club_roles::Column::Account.eq(account));
    let rows = query.all(conn).await?;
    Ok(Some(rows.iter().filter_map(|row| Role::parse(&row.role)).collect()))
}

/// The roles of a member that count; none for a stranger.
pub async fn roles_in(conn: &impl ConnectionTrait, club: Uuid, account: Uuid) -> Result<Option<Vec<Role>>> {
    let held = roles_held(conn, club, account).await?;
    if held.as_ref().is_none_or(Vec::is_empty) || !needs_factor(conn, club).await? {
        return Ok(held);
    }
    if has_factor(conn, account).await? { Ok(held) } else { Ok(Some(Vec::new())) }
}

/// Whether the roles of a club count only with a second factor.
pub async fn needs_factor(conn: &impl ConnectionTrait, id: Uuid) -> Result<bool> {
    Ok(club(conn, id).await?.is_some_and(|club| club.officers_need_factor))
}

/// Keeps whether they do.
pub async fn set_needs_factor(conn: &impl ConnectionTrait, club: Uuid, needs: bool) -> Result<()> {
    let row = clubs::ActiveModel { id: Set(club), officers_need_factor: Set(needs), ..Default::default() };
    row.update(conn).await?;
    Ok(())
}

/// Which rows of the roles count: where a club wants a second factor, those of accounts that have one.
pub fn that_count() -> Condition {
    let wants = clubs::Entity::find()
        .select_only()
        .column(clubs::Column::Id)
        .filter(clubs::Column::OfficersNeedFactor.eq(true))
        .into_query();
    Condition::any()
        .add(club_roles::Column::Club.not_in_subquery(wants))
        .add(club_roles::Column::Account.in_subquery(with_factor()))
}

/// Whether somebody has a role in a club now, and it counts.
pub async fn has_role(conn: &impl ConnectionTrait, club: Uuid, account: Uuid, role: Role) -> Result<bool> {
    let roles = roles_in(conn, club, account).await?;
    Ok(roles.is_some_and(|roles| role == Role::Member || roles.contains(&role)))
}

/// The roles of everybody in a club, by account.
pub async fn roles_by_account(conn: &impl ConnectionTrait, club: Uuid) -> Result<HashMap<Uuid, Vec<Role>>> {
    let rows = club_roles::Entity::find().filter(club_roles::Column::Club.eq(club)).all(conn).await?;
    let mut all: HashMap<Uuid, Vec<Role>> = HashMap::new();
    for row in rows {
        let role = Role::parse(&row.role).filter(|role| *role != Role::Member);
        all.entry(row.account).or_default().extend(role);
    }
    Ok(all)
}

/// Everybody who holds a role in a club, whether or not it counts.
pub async fn accounts_with_role(conn: &impl ConnectionTrait, club: Uuid, role: Role) -> Result<Vec<Uuid>> {
    let query = club_roles::Entity::find()
        .filter(club_roles::Column::Club.eq(club))
        .filter(club_roles::Column::Role.eq(role.as_str()));
    Ok(query.all(conn).await?.into_iter().map(|row| row.account).collect())
}

/// The clubs in which somebody has a role that counts.
pub async fn clubs_where(conn: &impl ConnectionTrait, account: Uuid, role: Role) -> Result<Vec<Uuid>> {
    let query = club_roles::Entity::find()
        .filter(club_roles::Column::Account.eq(account))
        .filter(club_roles::Column::Role.eq(role.as_str()))
        .filter(that_count());
    Ok(query.all(conn).await?.into_iter().map(|row| row.club).collect())
}

/// The members of a club with their names, by name.
pub async fn members(
    conn: &impl ConnectionTrait,
    club: Uuid,
) -> Result<Vec<(accounts::Model, Vec<String>, i64)>> {
    let members = club_members::Entity::find().filter(club_members::Column::Club.eq(club)).all(conn).await?;
    let roles = club_roles::Entity::find().filter(club_roles::Column::Club.eq(club)).all(conn).await?;
    let people = accounts::Entity::find()
        .filter(accounts::Column::Id.is_in(members.iter().map(|m| m.account)))
        .order_by_asc(accounts::Column::ShownName)
        .order_by_asc(accounts::Column::Id)
        .all(conn)
        .await?;
    let since = |id: Uuid| members.iter().find(|m| m.account == id).map_or(0, |m| m.since_ms);
    let roles_of = |id: Uuid| roles.iter().filter(|r| r.account == id).map(|r| r.role.clone()).collect();
    Ok(people.into_iter().map(|person| (person.clone(), roles_of(person.id), since(person.id))).collect())
}

/// Makes somebody a member, once.
pub async fn add_member(conn: &impl ConnectionTrait, club: Uuid, account: Uuid, now: i64) -> Result<()> {
    let row = club_members::ActiveModel { club: Set(club), account: Set(account), since_ms: Set(now) };
    let key = [club_members::Column::Club, club_members::Column::Account];
    club_members::Entity::insert(row).on_conflict_do_nothing_on(key).exec_without_returning(conn).await?;
    Ok(())
}

/// Ends somebody's membership, with all roles.
pub async fn remove_member(conn: &impl ConnectionTrait, club: Uuid, account: Uuid) -> Result<()> {
    club_roles::Entity::delete_many()
        .filter(club_roles::Column::Club.eq(club))
        .filter(club_roles::Column::Account.eq(account))
        .exec(conn)
        .await?;
    club_members::Entity::delete_by_id((club, account)).exec(conn).await?;
    Ok(())
}

/// Gives somebody a role, once.
pub async fn add_role(
    conn: &impl ConnectionTrait,
    club: Uuid,
    account: Uuid,
    role: Role,
    now: i64,
) -> Result<()> {
    let row = club_roles::ActiveModel {
        club: Set(club),
        account: Set(account),
        role: Set(role.as_str().to_owned()),
        since_ms: Set(now),
    };
    let key = [club_roles::Column::Club, club_roles::Column::Account, club_roles::Column::Role];
    club_roles::Entity::insert(row).on_conflict_do_nothing_on(key).exec_without_returning(conn).await?;
    Ok(())
}

/// Takes a role away.
pub async fn remove_role(conn: &impl ConnectionTrait, club: Uuid, account: Uuid, role: Role) -> Result<()> {
    club_roles::Entity::delete_by_id((club, account, role.as_str().to_owned())).exec(conn).await?;
    Ok(())
}

/// Every version of a club's quarantine rule, the oldest first.
pub async fn rules_of(conn: &impl ConnectionTrait, club: Uuid) -> Result<Vec<club_rules::Model>> {
    let query = club_rules::Entity::find().filter(club_rules::Column::Club.eq(club));
    Ok(query.order_by_asc(club_rules::Column::Version).all(conn).await?)
}

/// One version of it.
pub async fn rule(
    conn: &impl ConnectionTrait,
    club: Uuid,
    version: i32,
) -> Result<Option<club_rules::Model>> {
    Ok(club_rules::Entity::find_by_id((club, version)).one(conn).await?)
}

/// The version that is in force at a time: the newest that has begun.
pub async fn rule_in_force(
    conn: &impl ConnectionTrait,
    club: Uuid,
    at_ms: i64,
) -> Result<Option<club_rules::Model>> {
    let query = club_rules::Entity::find()
        .filter(club_rules::Column::Club.eq(club))
        .filter(club_rules::Column::FromMs.lte(at_ms))
        .order_by_desc(club_rules::Column::Version);
    Ok(query.one(conn).await?)
}

/// Keeps a new version.
pub async fn insert_rule(
    conn: &impl ConnectionTrait,
    row: club_rules::ActiveModel,
) -> Result<club_rules::Model> {
    Ok(row.insert(conn).await?)
}
