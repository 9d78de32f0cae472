//! A club's written quarantine rule, as TOML and as it travels in ops. Strictest-of-several is field by field.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::streams::Days;

/// What makes the clock start again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum RestartOn {
    /// A sign of disease.
    Sign,
    /// A loss nobody can explain.
    UnexplainedLoss,
}

/// What a later arrival in the same water does. Both rules are in print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SharedWater {
    /// All start again with the last arrival: `last_in + max q`.
    Restart,
    /// All wait until each has done its own days: `max(in_i + q_i)`.
    WaitForLast,
}

/// What a treatment does to the clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TreatmentClock {
    /// The clock does not run while it lasts and starts again at its end.
    RestartAtEnd,
}

/// What an unsold lot whose bag was never opened comes home to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum UnopenedBag {
    /// To quarantine.
    Quarantine,
    /// To its tank.
    Home,
}

/// A quarantine rule.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rule {
    /// Whole days of 24 hours.
    pub min_days: Days,
    /// Other lengths by where fish came from: `shop`, `person`, `wild`, `show`, `other`, `parcel`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub days_from: BTreeMap<String, Days>,
    /// Other lengths by the genus, or the genus and species, as kept; before those by where they came from.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub days_of: BTreeMap<String, Days>,
    /// The longest gap between two recorded looks.
    pub observe_every_days: Days,
    /// What starts the clock again.
    pub restart_on: BTreeSet<RestartOn>,
    /// What a treatment does.
    pub treatment: TreatmentClock,
    /// What a later arrival does.
    pub shared_water: SharedWater,
    /// Losses of younger fish count as fry losses.
    pub fry_days: Days,
    /// Fry losses start the clock again above this share in 7 days, in per cent.
    pub fry_loss_percent: u8,
    /// What an unsold lot in an unopened bag comes home to.
    pub unopened_bag_returns: UnopenedBag,
    /// An entry later than this has to be read by a steward.
    pub late_after_hours: u16,
    /// Named losses above this share have to be read by a steward, in per cent.
    pub named_loss_percent: u8,
    /// How long water stays the unit's after its last member left.
    pub water_days: Days,
    /// Who may clear.
    pub clear_role: String,
}

/// Where fish can have come from, as `days_from` names it.
const SOURCES: [&str; 6] = ["shop", "person", "wild", "show", "other", "parcel"];

/// The rule that holds where a club has adopted none; see the sources in its comments.
const SHIPPED: &str = include_str!("shipped_rule.toml");

/// Why a text is no rule.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct RuleError(String);

impl Rule {
    /// The shipped default.
    pub fn shipped() -> Self {
        static RULE: LazyLock<Rule> =
            LazyLock::new(|| Rule::from_toml(SHIPPED).expect("the shipped rule is read by a test"));
        RULE.clone()
    }

    /// The shipped default's text, with its sources.
    pub fn shipped_text() -> &'static str {
        SHIPPED
    }

    /// Reads a rule.
    ///
    /// # Errors
    /// Names the line and field.
    pub fn from_toml(text: &str) -> Result<Self, RuleError> {
        let rule: Self = toml::from_str(text).map_err(|e| RuleError(e.to_string()))?;
        rule.check()?;
        Ok(rule)
    }

    /// Whether its figures make sense.
    ///
    /// # Errors
    /// Names the field.
    pub fn check(&self) -> Result<(), RuleError> {
        let wrong = |what: &str| Err(RuleError(what.to_owned()));
        if self.min_days.0 == 0 {
            return wrong("min_days: at least one day");
        }
        if self.observe_every_days.0 == 0 {
            return wrong("observe_every_days: at least one day");
        }
        if let Some(word) = self.days_from.keys().find(|word| !SOURCES.contains(&word.as_str())) {
            return Err(RuleError(format!("days_from: {word:?} is none of {}", SOURCES.join(", "))));
        }
        if self.days_from.values().chain(self.days_of.values()).any(|days| days.0 == 0) {
            return wrong("days_from, days_of: at least one day");
        }
        if self.fry_loss_percent > 100 || self.named_loss_percent > 100 {
            return wrong("a share is from 0 to 100 per cent");
        }
        if self.clear_role != "health_steward" {
            return wrong("clear_role: the only role that clears is health_steward");
        }
        Ok(())
    }

    /// How long fish of this species from there are held.
    pub fn days_for(&self, from: Option<&str>, species: Option<&str>) -> Days {
        let species = species.map(str::trim);
        let genus = species.and_then(|name| name.split_whitespace().next());
        let by_name = [species, genus].into_iter().flatten().find_map(|name| self.days_of.get(name));
        let by_source = || from.and_then(|from| self.days_from.get(from));
        by_name.or_else(by_source).copied().unwrap_or(self.min_days)
    }

    /// The stricter of two, field by field. A length that only one of them has is held against the other's `min_days`.
    pub fn strictest(self, other: Self) -> Self {
        let longest = |ours: &BTreeMap<String, Days>, theirs: &BTreeMap<String, Days>| {
            let keys: BTreeSet<&String> = ours.keys().chain(theirs.keys()).collect();
            let of =
                |all: &BTreeMap<String, Days>, key: &String, min: Days| all.get(key).copied().unwrap_or(min);
            let longer = |key: &String| of(ours, key, self.min_days).max(of(theirs, key, other.min_days));
            keys.into_iter().map(|key| (key.clone(), longer(key))).collect()
        };
        Self {
            days_from: longest(&self.days_from, &other.days_from),
            days_of: longest(&self.days_of, &other.days_of),
            min_days: self.min_days.max(other.min_days),
            observe_every_days: self.observe_every_days.min(other.observe_every_days),
            restart_on: self.restart_on.union(&other.restart_on).copied().collect(),
            treatment: self.treatment,
            shared_water: self.shared_water.min(other.shared_water),
            fry_days: self.fry_days.max(other.fry_days),
            fry_loss_percent: self.fry_loss_percent.min(other.fry_loss_percent),
            unopened_bag_returns: self.unopened_bag_returns.min(other.unopened_bag_returns),
            late_after_hours: self.late_after_hours.min(other.late_after_hours),
            named_loss_percent: self.named_loss_percent.min(other.named_loss_percent),
            water_days: self.water_days.max(other.water_days),
            clear_role: self.clear_role,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_rule_is_a_rule() {
        let rule = Rule::shipped();
        assert_eq!((rule.min_days, rule.water_days), (Days(30), Days(7)));
        // UF/IFAS Circular 920: three weeks is generally considered a minimum.
        assert!(rule.min_days >= Days(21));
    }

    #[test]
    fn the_strictest_takes_each_field_by_itself() {
        let long = Rule { min_days: Days(42), observe_every_days: Days(9), ..Rule::shipped() };
        let close =
            Rule { observe_every_days: Days(2), shared_water: SharedWater::WaitForLast, ..Rule::shipped() };
        let both = long.clone().strictest(close.clone());
        assert_eq!((both.min_days, both.observe_every_days), (Days(42), Days(2)));
        assert_eq!(both.shared_water, SharedWater::Restart);
        assert_eq!(both, close.strictest(long));
    }

    #[test]
    fn a_wrong_rule_says_which_field() {
        let wrong = Rule::shipped_text().replace("min_days = 30", "min_days = -3");
        assert!(Rule::from_toml(&wrong).expect_err("negative").to_string().contains("min_days"));
        let unknown = format!("{}\nmin_weeks = 3\n", Rule::shipped_text());
        assert!(Rule::from_toml(&unknown).expect_err("unknown").to_string().contains("min_weeks"));
    }
}
