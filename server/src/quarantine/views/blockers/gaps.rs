//! A time without a look.

use std::collections::BTreeMap;

use tarn_domain::quarantine::{Gap, UnitState};
use tarn_domain::streams::OpId;

use super::Scene;
use crate::platform::day::DAY;
use crate::platform::parts::{Blocker, Deed, Way};
use crate::platform::words::{RunKind, Words};
use crate::quarantine::views::groups::Group;
use crate::quarantine::views::people::You;

/// Who wants the looks.
fn whose(scene: &Scene<'_>) -> &'static str {
    match scene.people.clubs.len() {
        0 => "The shipped rule",
        1 => "The club\u{2019}s rule",
        _ => "The strictest rule of the clubs",
    }
}

pub(super) fn gap(scene: &Scene<'_>, group: &Group, gap: Gap, new: &mut dyn FnMut() -> OpId) -> Blocker {
    let (of, wall) = (scene.of, scene.of.look.wall);
    let runs = gap.until >= of.look.now();
    let from = wall.moment(gap.from.seconds());
    let when = if runs {
        Words::plain(format!("Since {from} nobody recorded a look"))
    } else {
        Words::plain(format!("From {from} to {} nobody recorded a look", wall.moment(gap.until.seconds())))
    };
    let when = if of.unit.members.len() > 1 { when.then(at_whom(scene, group)) } else { when };
    let most = of.unit.rule.observe_every_days.0;
    let wants = match most {
        1 => "one every day".to_owned(),
        n => format!("one at least every {n}\u{a0}days"),
    };
    let mut ways = vec![begin_again(scene, gap, runs, new)];
    ways.push(scene.waived(group, new));
    Blocker::new(
        format!("No look for {} days", gap.seconds() / DAY),
        when.and(RunKind::Plain, format!(". {} wants {wants}.", whose(scene))),
        ways,
    )
}

/// " at the fish", each named once.
fn at_whom(scene: &Scene<'_>, group: &Group) -> Words {
    let names = group.all.iter().filter_map(|b| b.stock()).map(|id| scene.teller.names.stock(id));
    let names: BTreeMap<String, Words> = names.map(|name| (name.text(), name)).collect();
    let last = names.len().saturating_sub(1);
    names.into_values().enumerate().fold(Words::default(), |all, (i, name)| {
        let before = match i {
            0 => " at ",
            i if i == last => " and ",
            _ => ", ",
        };
        all.and(RunKind::Plain, before).then(name)
    })
}

fn begin_again(scene: &Scene<'_>, gap: Gap, runs: bool, new: &mut dyn FnMut() -> OpId) -> Way {
    let (of, wall) = (scene.of, scene.of.look.wall);
    if of.unit.state == UnitState::Treating {
        return Way::say(
            "The end of the treatment begins the days again, and then this gap no longer matters.",
        );
    }
    let due = gap.until.plus(of.unit.days);
    let due = of.unit.due.map_or(due, |now| now.max(due));
    let becomes = wall.moment(due.seconds());
    let (when, day) = if runs {
        ("now, after a look", "today".to_owned())
    } else {
        ("at the end of the gap", wall.day(gap.until.seconds()))
    };
    let look = if runs { "Look at the fish first, and record it. " } else { "" };
    match scene.people.you {
        You::Keeper => Way {
            sentence: format!("{look}You begin the days again {when}. The day becomes {becomes}."),
            deed: Some(Deed {
                words: format!("Begin again from {day}"),
                action: scene.action("begin-again"),
                hidden: vec![("id", new().to_string()), ("key", tarn_domain::state::Blocker::Gap(gap).key())],
            }),
            ..Way::default()
        },
        _ => Way::say(format!("The keeper begins the days again {when}. The day becomes {becomes}.")),
    }
}
