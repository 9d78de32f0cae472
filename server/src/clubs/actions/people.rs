//! The member list: read, written line by line, struck off.

use std::collections::HashMap;

use sea_orm::ActiveValue::{NotSet, Set};
use tarn_domain::accounts::{Email, ShownName};
use tarn_domain::clubs::Role;
use tarn_domain::clubs::people::{Belongs, Fault, Household, Line, MemberNumber, PaidUntil, Standing, Typed};
use uuid::Uuid;

use super::super::refusals::{GUESTS_ARE_NO_OFFICERS, LAPSED_ARE_NO_OFFICERS};
use super::super::store;
use super::membership;
use crate::entities::{accounts, club_people};
use crate::platform::edits::Expected;
use crate::platform::errors::{INVALID, NOT_FOUND};
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// Somebody on the list.
pub struct OnList {
    /// Who, in this list.
    pub person: Uuid,
    /// What stands there.
    pub line: Line,
    /// How they stand today.
    pub standing: Standing,
    /// Their login, if they have one.
    pub login: Option<accounts::Model>,
    /// Their roles beside being a member.
    pub roles: Vec<Role>,
    /// Since when on the list.
    pub since_ms: i64,
    /// Of the line.
    pub version: i32,
}

/// What a row says; what can't be read is left out of it.
pub(super) fn line_of(row: &club_people::Model) -> Result<Line> {
    let name = ShownName::parse(&row.name).or_else(|_| ShownName::parse("(no name)"));
    Ok(Line {
        number: row.number.as_deref().and_then(|text| MemberNumber::parse(text).ok()),
        name: name.map_err(|why| Problem::failed("reading the list", why))?,
        email: row.email.as_deref().and_then(|text| Email::parse(text).ok()),
        household: row.household.as_deref().and_then(|text| Household::parse(text).ok()),
        belongs: if row.guest { Belongs::Guest } else { Belongs::Member },
        paid_until: row.paid_until.as_deref().and_then(|text| PaidUntil::parse(text).ok()),
        lapsed: row.lapsed,
    })
}

/// A line as a row's columns.
pub(super) fn columns(line: &Line) -> club_people::ActiveModel {
    club_people::ActiveModel {
        number: Set(line.number.as_ref().map(|number| number.as_str().to_owned())),
        name: Set(line.name.as_str().to_owned()),
        email: Set(line.email.as_ref().map(|email| email.as_str().to_owned())),
        household: Set(line.household.as_ref().map(|household| household.as_str().to_owned())),
        guest: Set(line.belongs == Belongs::Guest),
        paid_until: Set(line.paid_until.map(|day| day.to_string())),
        lapsed: Set(line.lapsed),
        ..Default::default()
    }
}

/// A page of a club's list, by id.
pub async fn list_after(ctx: &Ctx, club: Uuid, after: Option<Uuid>, most: u64) -> Result<Vec<OnList>> {
    let rows = store::list_after(&ctx.db.conn, club, after, most).await?;
    told(ctx, club, rows).await
}

/// The whole list, by name.
pub async fn list(ctx: &Ctx, club: Uuid) -> Result<Vec<OnList>> {
    let rows = store::list(&ctx.db.conn, club).await?;
    told(ctx, club, rows).await
}

/// One of them.
pub async fn one(ctx: &Ctx, club: Uuid, person: Uuid) -> Result<OnList> {
    let row = store::person(&ctx.db.conn, club, person).await?.ok_or_else(nobody)?;
    told(ctx, club, vec![row]).await?.pop().ok_or_else(nobody)
}

async fn told(ctx: &Ctx, club: Uuid, rows: Vec<club_people::Model>) -> Result<Vec<OnList>> {
    let conn = &ctx.db.conn;
    let mut logins: HashMap<Uuid, accounts::Model> = store::logins_of(conn, &rows).await?;
    let mut roles = store::roles_by_account(conn, club).await?;
    let today = ctx.clock.today();
    rows.into_iter()
        .map(|row| {
            let line = line_of(&row)?;
            Ok(OnList {
                person: row.person,
                standing: line.standing(today),
                line,
                login: row.account.and_then(|account| logins.remove(&account)),
                roles: row.account.and_then(|account| roles.remove(&account)).unwrap_or_default(),
                since_ms: row.made_ms,
                version: row.version,
            })
        })
        .collect()
}

fn nobody() -> Problem {
    Problem::new(&NOT_FOUND).detail("Nobody on the list has this id.")
}

/// Everything that is wrong with a line.
pub(super) fn refused(faults: &[Fault]) -> Problem {
    let first = faults.first().map_or("", |fault| fault.why);
    faults.iter().fold(Problem::new(&INVALID).detail(first), |problem, fault| {
        problem.at(&format!("/{}", fault.field.as_str()), fault.why)
    })
}

pub(super) async fn insert(w: &Write, club: Uuid, person: Uuid, line: &Line) -> Result<()> {
    let row = club_people::ActiveModel {
        club: Set(club),
        person: Set(person),
        account: NotSet,
        made_ms: Set(w.now),
        left_ms: NotSet,
        version: Set(1),
        ..columns(line)
    };
    store::insert_person(w.tx(), row).await
}

async fn number_is_free(w: &Write, club: Uuid, person: Uuid, line: &Line) -> Result<()> {
    let Some(number) = &line.number else { return Ok(()) };
    let others = store::list(w.tx(), club).await?;
    let theirs =
        |row: &&club_people::Model| row.person != person && row.number.as_deref() == Some(number.as_str());
    match others.iter().find(theirs) {
        None => Ok(()),
        Some(other) => {
            let why = format!("{} has this number.", other.name);
            Err(Problem::new(&INVALID).detail(why.clone()).at("/number", why))
        }
    }
}

/// Puts somebody on the list, or writes their line anew. The same again changes nothing.
pub async fn put(
    ctx: &Ctx,
    actor: &Actor,
    (club, person): (Uuid, Uuid),
    expected: &Expected,
    typed: &Typed,
) -> Result<()> {
    write(ctx, actor, async |w| {
        store::lock_club(w.tx(), club).await?;
        let row = store::lock_person(w.tx(), club, person).await?;
        let there = row.as_ref().filter(|row| row.left_ms.is_none());
        let old = there.map(line_of).transpose()?;
        if let (Some(row), false) = (there, *expected == Expected::Missing) {
            expected.check(row.version)?;
        }
        let line = typed.over(old.as_ref()).map_err(|faults| refused(&faults))?;
        if old.as_ref() == Some(&line) {
            return Ok(());
        }
        number_is_free(w, club, person, &line).await?;
        match (there, row.as_ref()) {
            (Some(row), _) => {
                expected.check(row.version)?;
                may_be_of(w, club, row.account, &line).await?;
                save(w, row, &line).await
            }
            // somebody who had left is there again, without a login until they are invited
            (None, Some(row)) => again(w, row, &line).await,
            (None, None) => {
                insert(w, club, person, &line).await?;
                w.audit_of(club, "clubs", format!("person {person} put on the list of club {club}"));
                Ok(())
            }
        }
    })
    .await
}

async fn again(w: &mut Write, row: &club_people::Model, line: &Line) -> Result<()> {
    let back = club_people::ActiveModel {
        club: Set(row.club),
        person: Set(row.person),
        account: Set(None),
        left_ms: Set(None),
        version: Set(row.version.saturating_add(1)),
        ..columns(line)
    };
    store::save_person(w.tx(), back).await?;
    w.audit_of(
        row.club,
        "clubs",
        format!("person {} put on the list of club {} again", row.person, row.club),
    );
    Ok(())
}

/// Officers are members: who holds a role can't become a guest, nor lapse.
pub(super) async fn may_be_of(w: &Write, club: Uuid, account: Option<Uuid>, line: &Line) -> Result<()> {
    let Some(account) = account else { return Ok(()) };
    let refusal = match (line.belongs, line.lapsed) {
        (Belongs::Guest, _) => Problem::new(&GUESTS_ARE_NO_OFFICERS).at("/guest", "An officer is no guest."),
        (_, true) => Problem::new(&LAPSED_ARE_NO_OFFICERS).at("/lapsed", "An officer is a member."),
        _ => return Ok(()),
    };
    let roles = store::roles_held(w.tx(), club, account).await?.unwrap_or_default();
    if roles.iter().any(|role| *role != Role::Member) { Err(refusal) } else { Ok(()) }
}

pub(super) async fn save(w: &mut Write, row: &club_people::Model, line: &Line) -> Result<()> {
    let changed = club_people::ActiveModel {
        club: Set(row.club),
        person: Set(row.person),
        version: Set(row.version.saturating_add(1)),
        ..columns(line)
    };
    store::save_person(w.tx(), changed).await?;
    w.audit_of(
        row.club,
        "clubs",
        format!("line of person {} in the list of club {} written anew", row.person, row.club),
    );
    Ok(())
}

/// Takes somebody off the list; their membership and roles end with it.
pub async fn strike(ctx: &Ctx, actor: &Actor, club: Uuid, person: Uuid, expected: &Expected) -> Result<()> {
    write(ctx, actor, async |w| {
        let row = store::lock_person(w.tx(), club, person).await?;
        let row = row.filter(|row| row.left_ms.is_none()).ok_or_else(nobody)?;
        expected.check(row.version)?;
        if let Some(account) = row.account {
            return membership::end(w, club, account).await;
        }
        let gone = club_people::ActiveModel {
            club: Set(club),
            person: Set(person),
            left_ms: Set(Some(w.now)),
            ..Default::default()
        };
        store::save_person(w.tx(), gone).await?;
        store::end_invitations_for(w.tx(), club, person, w.now).await?;
        w.audit_of(club, "clubs", format!("person {person} taken off the list of club {club}"));
        Ok(())
    })
    .await
}
