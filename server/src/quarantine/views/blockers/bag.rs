//! Fish still in the bag: the days begin when they swim. Which water, the keeper chooses; moving fish is never refused.

use std::collections::BTreeSet;

use tarn_domain::quarantine::UnitState;
use tarn_domain::streams::{OpId, SystemId, TankId};

use super::Scene;
use crate::platform::parts::{Blocker, Choice, Deed, Way};
use crate::quarantine::views::people::You;
use crate::rooms::views::natural;

pub(super) fn in_the_bag(scene: &Scene<'_>, new: &mut dyn FnMut() -> OpId) -> Option<Blocker> {
    let (of, wall) = (scene.of, scene.of.look.wall);
    if of.unit.state != UnitState::InTheBag {
        return None;
    }
    let bag = of.unit.members.first()?;
    let happened = format!(
        "In the bag since {}. A bag has no days: they begin when the fish swim in water that they share with no others.",
        wall.moment(bag.since.seconds())
    );
    let way = match scene.people.you {
        You::Keeper => Way {
            deed: Some(Deed {
                words: "They swim in it now".into(),
                action: scene.action("out-of-the-bag"),
                hidden: vec![("id", new().to_string()), ("stock", bag.stock.to_string())],
            }),
            choice: Some(tanks(scene)),
            ..Way::say("You put them into water of their own. Whatever shares that water is held with them.")
        },
        _ => Way::say("The keeper puts them into water of their own; then the days begin."),
    };
    Some(Blocker::new("The fish are still in the bag", happened, vec![way]))
}

/// Every tank, those first in whose water nobody swims.
fn tanks(scene: &Scene<'_>) -> Choice {
    let states = scene.teller.names.states;
    let system = |tank: TankId| states.tanks.get(&tank).and_then(|state| state.system());
    let stays = states.stocks.values().flat_map(|stock| &stock.stays);
    let taken: BTreeSet<TankId> =
        stays.filter(|stay| stay.until.is_none()).filter_map(|stay| stay.tank).collect();
    let waters: BTreeSet<SystemId> = taken.iter().filter_map(|tank| system(*tank)).collect();
    let others =
        |tank: TankId| taken.contains(&tank) || system(tank).is_some_and(|system| waters.contains(&system));
    let mut all: Vec<TankId> = states.tanks.keys().copied().collect();
    all.sort_by_cached_key(|tank| (others(*tank), natural(&scene.teller.names.tank(*tank)), *tank));
    let options = all.into_iter().map(|tank| {
        let with = if others(tank) { ", with others in its water" } else { "" };
        (tank.to_string(), format!("{}{with}", scene.teller.names.tank(tank)))
    });
    Choice::of("tank", "Into which tank", options)
}
