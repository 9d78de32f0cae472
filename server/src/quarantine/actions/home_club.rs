//! Whose rule holds in a room. The decision, and the club's rules with it, go into the room's stream.

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{Adopted, HomeClubSet, RuleAdopted};
use tarn_domain::streams::{AccountId, At, ClubId, OpId, StreamId};

use crate::clubs;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result, actor::Actor, write::Write, write::write};
use crate::quarantine::refusals::NOT_A_MEMBER;
use crate::quarantine::store::{self, AdoptedRule};
use crate::rooms;
use crate::streams::{self, Incoming, Path};

/// Names a room's home club, from now on.
///
/// # Errors
/// `not-found` for a room the caller does not keep, `not-a-member`.
pub async fn set_home_club(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    room: StreamId,
    club: Option<ClubId>,
) -> Result<u64> {
    write(ctx, actor, async |w| {
        if !rooms::store::is_keeper(w.tx(), room, account).await? {
            return Err(Problem::new(&NOT_FOUND));
        }
        if let Some(club) = club {
            // Against a rule that is adopted at this moment.
            clubs::store::lock_club(w.tx(), club.0).await?;
        }
        if let Some(club) = club
            && !store::is_member(w.tx(), club, account).await?
        {
            return Err(Problem::new(&NOT_A_MEMBER));
        }
        let was = rooms::store::room(w.tx(), room).await?.and_then(|row| row.home_club).map(ClubId);
        if was != club {
            let from = At::from_seconds(w.now.div_euclid(1000));
            let body = Body::HomeClubSet(HomeClubSet { club, from, relies: Vec::new() });
            let incoming = Incoming { id: OpId(ctx.ids.new_id(w.now)), at: Some(from), body };
            streams::append(w, room, vec![incoming], Path::Decision(account)).await?;
            let fact = format!("home club of room {room} set by {account}");
            match club.or(was) {
                Some(club) => w.audit_of(club.0, "quarantine", fact),
                None => w.audit("quarantine", fact),
            }
        }
        match club {
            Some(club) => adopt_rules(w, room, club, account).await,
            None => Ok(streams::touch_up(w, room).await?.head),
        }
    })
    .await
}

/// Writes the versions of a club's rule that a room does not have yet into its stream.
pub async fn adopt_rules(w: &mut Write, room: StreamId, club: ClubId, by: AccountId) -> Result<u64> {
    let mut head = streams::touch_up(w, room).await?;
    for adopted in store::rules(w.tx(), club).await? {
        if streams::in_write(w, room, |memory| has(memory, club, &adopted)) == Some(true) {
            continue;
        }
        let now = At::from_seconds(w.now.div_euclid(1000));
        let body = Body::RuleAdopted(RuleAdopted {
            club,
            version: adopted.version,
            from: adopted.from.max(now),
            rule: adopted.rule,
            relies: Vec::new(),
        });
        let id = OpId(w.ctx().ids.new_id(w.now));
        head =
            streams::append(w, room, vec![Incoming { id, at: Some(now), body }], Path::Decision(by)).await?;
    }
    Ok(head.head)
}

/// The same version with the same rule: after a restore a club may give a number a second time.
fn has(memory: &tarn_domain::state::Memory, club: ClubId, adopted: &AdoptedRule) -> bool {
    let same = |r: &Adopted| r.version == adopted.version && r.rule == adopted.rule;
    memory.facts().is_some_and(|facts| facts.rules.iter().any(|r| r.club == club && same(r)))
}
