//! Counts that found more, and many losses under named causes.

use tarn_domain::quarantine::{Mark, UnitState};
use tarn_domain::streams::OpId;

use super::Scene;
use crate::platform::parts::{Blocker, Way};
use crate::platform::words::{RunKind, Words};
use crate::quarantine::views::groups::Group;
use crate::quarantine::views::people::You;

pub(super) fn found_more(
    scene: &Scene<'_>,
    group: &Group,
    mark: Mark,
    new: &mut dyn FnMut() -> OpId,
) -> Blocker {
    const NOBODY_KNOWS: &str =
        "more than the records said. Nobody knows where they come from, or since when they share this water.";
    let stock = scene.teller.names.states.stocks.get(&mark.stock);
    let more = |op: OpId| stock.map_or(0, |stock| stock.correction(op));
    let ways = vec![scene.waived(group, new)];
    if group.all.len() > 1 {
        let ops = || group.all.iter().filter_map(|blocker| blocker.entry());
        let sum: i64 = ops().map(more).sum();
        let list = ops().filter_map(|op| scene.told(op, &format!("; {} more", more(op)))).collect();
        let n = group.all.len();
        let happened = format!("Together {sum} {NOBODY_KNOWS}");
        return Blocker { list, ..Blocker::new(format!("{n} counts found more fish"), happened, ways) };
    }
    let said = scene.entry(mark.op).map_or_else(Words::default, |said| said.and(RunKind::Plain, ": "));
    let happened = said.and(RunKind::Plain, format!("{} {NOBODY_KNOWS}", more(mark.op)));
    Blocker::new("A count found more fish", happened, ways)
}

pub(super) fn many_named(
    scene: &Scene<'_>,
    group: &Group,
    mark: Mark,
    new: &mut dyn FnMut() -> OpId,
) -> Blocker {
    let of = scene.of;
    let percent = of.unit.rule.named_loss_percent;
    let said = scene
        .entry(mark.op)
        .map_or_else(Words::default, |said| Words::plain(" Last: ").then(said).and(RunKind::Plain, "."));
    let happened = Words::plain("Of ").then(scene.teller.names.stock(mark.stock)).and(
        RunKind::Plain,
        format!(
            " more than {percent}\u{a0}% were lost under named causes, or given away, in the days that count. A named \
             cause does not begin the days again, so a steward looks at so many."
        ),
    );
    let happened = happened.then(said);
    let due = mark.at.plus(of.unit.days);
    let due = of.unit.due.map_or(due, |now| now.max(due));
    let becomes = match of.unit.state {
        UnitState::Treating => String::new(),
        _ => format!(" The day becomes {}.", of.look.wall.moment(due.seconds())),
    };
    let unexplained = match scene.people.you {
        You::Steward(..) => Way {
            sentence: format!(
                "You hold the last loss for unexplained; the days begin again from it.{becomes}"
            ),
            form: Some(scene.form(
                (format!("judged-{}", mark.op), "Why it is not explained"),
                ("Hold it for unexplained", "The days begin again"),
                scene.action("losses"),
                vec![("entry", mark.op.to_string()), ("id", new().to_string())],
            )),
            ..Way::default()
        },
        _ => Way::say(format!(
            "Or the steward holds the last loss for unexplained; then the days begin again from it.{becomes}"
        )),
    };
    let ways = vec![scene.waived(group, new), unexplained];
    Blocker::new("Many were lost under named causes", happened, ways)
}
