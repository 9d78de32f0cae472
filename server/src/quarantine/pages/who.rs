//! Who has a say in a unit, and what the reader may do about it.

use tarn_domain::streams::{AccountId, ClubId};

use crate::accounts;
use crate::platform::{Ctx, Result};
use crate::quarantine::actions::{self, Looked, UnitLook};
use crate::quarantine::store;
use crate::quarantine::views::{ClubOf, People, You};
use crate::rooms;

/// The clubs whose rule holds, who may sign there without being a keeper of the room, and what the reader is.
pub async fn people(ctx: &Ctx, account: AccountId, of: &UnitLook) -> Result<People> {
    let conn = &ctx.db.conn;
    let keepers = rooms::store::keepers(conn, of.look.id).await?;
    let mut clubs = Vec::new();
    for id in &of.clubs {
        let all = store::stewards_in(conn, *id).await?;
        let count = all.len();
        let keeps = |who: &AccountId| keepers.iter().any(|(keeper, until)| keeper == who && until.is_none());
        let free: Vec<AccountId> = all.into_iter().filter(|who| !keeps(who)).collect();
        let mut stewards: Vec<String> = rooms::store::people(conn, free).await?.into_values().collect();
        stewards.sort_unstable();
        let signed = of.signature(*id).map(|signed| signed.says.steward);
        let signed_by = rooms::store::people(conn, signed).await?.into_values().next();
        clubs.push(ClubOf { id: *id, name: name(ctx, *id).await?, count, stewards, signed_by });
    }
    let mut could_join = Vec::new();
    if clubs.is_empty() && of.looked == Looked::Keeper {
        let own = accounts::store::clubs_of(conn, account.0).await?;
        could_join.extend(own.into_iter().map(|(club, _)| (ClubId(club.id), club.name)));
    }
    Ok(People { clubs, you: you(ctx, account, of).await?, could_join })
}

/// A club's name.
pub async fn name(ctx: &Ctx, club: tarn_domain::streams::ClubId) -> Result<String> {
    Ok(store::club_name(&ctx.db.conn, club).await?.unwrap_or_else(|| "a club".into()))
}

async fn you(ctx: &Ctx, account: AccountId, of: &UnitLook) -> Result<You> {
    if of.looked == Looked::Keeper {
        return Ok(You::Keeper);
    }
    let (units, at, _) = actions::unit_for(ctx, account, of.look.id, of.unit.id).await?;
    let seat = actions::seat(ctx, account, &units, at).await?;
    drop(units);
    Ok(match seat.club {
        _ if seat.is_party(account) => You::Party,
        None => You::Done,
        Some(club) => {
            let other = match seat.of_club {
                Some(other) => Some(name(ctx, other).await?),
                None => None,
            };
            You::Steward(club, other)
        }
    })
}
