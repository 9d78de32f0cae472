//! Adopting a quarantine rule.

use sea_orm::ActiveValue::Set;
use serde_json::json;
use tarn_domain::clubs::Rule;
use uuid::Uuid;

use super::super::store;
use crate::entities::club_rules;
use crate::platform::errors::INVALID;
use crate::platform::{Actor, Ctx, Job, Problem, Result, write};

/// Tells the rooms of the club; done by the area that owns the decision.
pub const RULE_ADOPTED: &str = "quarantine.rule_adopted";

/// The next version of the club's rule, in force from the given time, never before now.
pub async fn adopt_rule(
    ctx: &Ctx,
    actor: &Actor,
    club: Uuid,
    rule: &Rule,
    from_ms: Option<i64>,
) -> Result<club_rules::Model> {
    let text = serde_json::to_string(rule).map_err(|err| Problem::failed("writing a rule", err))?;
    let adopted_by = actor.account().ok_or_else(|| Problem::new(&INVALID))?;
    write(ctx, actor, async |w| {
        store::lock_club(w.tx(), club).await?;
        let version = store::rules_of(w.tx(), club).await?.last().map_or(1, |rule| rule.version + 1);
        let row = club_rules::ActiveModel {
            club: Set(club),
            version: Set(version),
            from_ms: Set(from_ms.unwrap_or(w.now).max(w.now)),
            rule: Set(text.clone()),
            adopted_by: Set(adopted_by),
            adopted_ms: Set(w.now),
        };
        let row = store::insert_rule(w.tx(), row).await?;
        w.audit_of(club, "clubs", format!("club {club} adopted version {version} of its quarantine rule"));
        w.enqueue(Job::new(RULE_ADOPTED, json!({"club": club, "version": version, "by": adopted_by})));
        Ok(row)
    })
    .await
}
