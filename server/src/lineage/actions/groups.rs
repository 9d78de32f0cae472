//! Line groups: keepers of any clubs who keep one line together. Members ask others in; whoever is asked agrees or not;
//! anybody leaves at any time, and the last one ends it.

use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::line::{Kept, of_rooms};
use crate::entities::{line_group_members as members, line_groups as groups};
use crate::lineage::refusals::GROUP_TAKEN;
use crate::lineage::store::groups as store;
use crate::platform::errors::{INVALID, NOT_FOUND, Problem, too_many_today};
use crate::platform::messages::{self, Line};
use crate::platform::{Actor, Ctx, Result, write};
use crate::rooms::store as rooms_store;

/// The longest name of a species or a line.
const MOST_SIGNS: usize = 120;
/// How many an account asks in a day at most.
const MOST_A_DAY: u64 = 20;
const DAY_MS: i64 = 86_400_000;

fn nothing() -> Problem {
    Problem::new(&NOT_FOUND)
}

/// A group as somebody in it, or asked into it, sees it.
pub struct Group {
    /// The group.
    pub row: groups::Model,
    /// Whether the reader has joined; else they were asked.
    pub joined: bool,
    /// What others read of whoever asked the reader.
    pub asked_by: Option<String>,
    /// What others read of those who have joined.
    pub members: Vec<String>,
}

/// The groups of somebody.
pub async fn groups(ctx: &Ctx, account: AccountId) -> Result<Vec<Group>> {
    let mut all = Vec::new();
    for (row, mine) in store::groups_of(&ctx.db.conn, account).await? {
        all.push(seen(ctx, row, &mine).await?);
    }
    Ok(all)
}

async fn seen(ctx: &Ctx, row: groups::Model, mine: &members::Model) -> Result<Group> {
    let conn = &ctx.db.conn;
    let members = store::members_of(conn, row.id).await?;
    let joined = members.iter().filter(|m| m.joined_ms.is_some()).map(|m| AccountId(m.account));
    let names = rooms_store::people(conn, joined.chain(mine.invited_by.map(AccountId))).await?;
    let mut shown: Vec<String> = members
        .iter()
        .filter(|m| m.joined_ms.is_some())
        .filter_map(|m| names.get(&AccountId(m.account)).cloned())
        .collect();
    shown.sort_unstable();
    let asked_by = mine.invited_by.and_then(|by| names.get(&AccountId(by)).cloned());
    Ok(Group { row, joined: mine.joined_ms.is_some(), asked_by, members: shown })
}

/// One group, with what its members keep of the line; that only for members.
///
/// # Errors
/// `not-found` for whoever is not in it and was not asked.
pub async fn group(ctx: &Ctx, account: AccountId, id: Uuid) -> Result<(Group, Vec<Kept>)> {
    let conn = &ctx.db.conn;
    let mine = store::member(conn, id, account).await?.ok_or_else(nothing)?;
    let row = store::group(conn, id).await?.ok_or_else(nothing)?;
    let group = seen(ctx, row, &mine).await?;
    if !group.joined {
        return Ok((group, Vec::new()));
    }
    let members = store::members_of(conn, id).await?;
    let joined: Vec<AccountId> =
        members.iter().filter(|m| m.joined_ms.is_some()).map(|m| AccountId(m.account)).collect();
    let kept = of_rooms(ctx, &joined, &group.row.species, &group.row.line).await?;
    Ok((group, kept))
}

/// A name without blanks at its ends.
fn named(what: &'static str, typed: &str) -> Result<String> {
    let name = typed.trim();
    let fits = !name.is_empty() && name.chars().count() <= MOST_SIGNS && !name.chars().any(char::is_control);
    if fits {
        return Ok(name.to_owned());
    }
    let why = format!("Write its name, 1 to {MOST_SIGNS} characters.");
    let problem =
        Problem::new(&INVALID).detail("A line group is of one species and one line, each with a name.");
    Err(problem.at(what, why))
}

/// Begins a group; whoever begins it is its first member. The same id by one of its members again changes nothing.
///
/// # Errors
/// `invalid`, `group-taken`.
pub async fn start(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    id: Uuid,
    (species, line): (&str, &str),
) -> Result<()> {
    let (species, line) = (named("/species", species)?, named("/line", line)?);
    write(ctx, actor, async |w| {
        if store::lock(w.tx(), id).await?.is_some() {
            let mine = store::member(w.tx(), id, account).await?;
            return if mine.is_some() { Ok(()) } else { Err(Problem::new(&GROUP_TAKEN)) };
        }
        let row = groups::Model { id, species: species.clone(), line: line.clone(), made_ms: w.now };
        store::insert(w.tx(), row).await?;
        let first = members::Model {
            line_group: id,
            account: account.0,
            invited_by: None,
            invited_ms: w.now,
            joined_ms: Some(w.now),
        };
        store::save_member(w.tx(), first).await?;
        w.audit("lineage", format!("line group {id} begun by {account}"));
        Ok(())
    })
    .await
}

/// Asks somebody in, by their login name; a line is kept across clubs, so they need share none. They are told on their
/// page, and see nothing of the line before they agree.
///
/// # Errors
/// `not-found` for a group that the caller has not joined, and for a name that nobody has; `too-many-today`, which also
/// keeps names from being tried out.
pub async fn invite(ctx: &Ctx, actor: &Actor, account: AccountId, id: Uuid, login: &str) -> Result<()> {
    write(ctx, actor, async |w| {
        let group = store::lock(w.tx(), id).await?.ok_or_else(nothing)?;
        let mine = store::member(w.tx(), id, account).await?;
        if mine.is_none_or(|mine| mine.joined_ms.is_none()) {
            return Err(nothing());
        }
        if store::invited_since(w.tx(), account, w.now - DAY_MS).await? >= MOST_A_DAY {
            return Err(too_many_today("You have asked 20 into line groups in 24 hours"));
        }
        let nobody = || Problem::new(&NOT_FOUND).detail("Nobody signs in with this name.");
        let other = rooms_store::account_of_login(w.tx(), login).await?.ok_or_else(nobody)?;
        if store::member(w.tx(), id, AccountId(other.id)).await?.is_some() {
            return Ok(());
        }
        let asked = members::Model {
            line_group: id,
            account: other.id,
            invited_by: Some(account.0),
            invited_ms: w.now,
            joined_ms: None,
        };
        store::save_member(w.tx(), asked).await?;
        let names = rooms_store::people(w.tx(), [account]).await?;
        let who = names.get(&account).map_or("Somebody", String::as_str);
        let text =
            format!("{who} asks you to keep {}, line {}, together. Agree or not.", group.species, group.line);
        // asked again after they left, they are told again, once a day
        let fact = format!("line group {id} {}", w.now.div_euclid(DAY_MS));
        let href = Some(format!("/groups/{id}"));
        messages::tell(w, Line { account: other.id, fact: &fact, text: &text, href }).await?;
        w.audit("lineage", format!("{} asked into line group {id}", other.id));
        Ok(())
    })
    .await
}

/// Whoever was asked agrees. Who has joined already stays.
///
/// # Errors
/// `not-found` for whoever was not asked.
pub async fn join(ctx: &Ctx, actor: &Actor, account: AccountId, id: Uuid) -> Result<()> {
    write(ctx, actor, async |w| {
        store::lock(w.tx(), id).await?.ok_or_else(nothing)?;
        let mine = store::member(w.tx(), id, account).await?.ok_or_else(nothing)?;
        if mine.joined_ms.is_some() {
            return Ok(());
        }
        store::save_member(w.tx(), members::Model { joined_ms: Some(w.now), ..mine }).await?;
        w.audit("lineage", format!("{account} joined line group {id}"));
        Ok(())
    })
    .await
}

/// Leaves, or says no. Without members the group ends.
///
/// # Errors
/// `not-found` for whoever is not in it and was not asked.
pub async fn leave(ctx: &Ctx, actor: &Actor, account: AccountId, id: Uuid) -> Result<()> {
    write(ctx, actor, async |w| {
        store::lock(w.tx(), id).await?.ok_or_else(nothing)?;
        store::member(w.tx(), id, account).await?.ok_or_else(nothing)?;
        store::remove_member(w.tx(), id, account).await?;
        w.audit("lineage", format!("{account} left line group {id}"));
        if store::members_of(w.tx(), id).await?.iter().all(|member| member.joined_ms.is_none()) {
            store::end(w.tx(), id).await?;
            w.audit("lineage", format!("line group {id} ended with its last member"));
        }
        Ok(())
    })
    .await
}
