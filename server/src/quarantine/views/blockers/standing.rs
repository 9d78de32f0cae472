//! What is in the way as long as things stand as they do: a recalled sign-off, a treatment, home fish in the water, no
//! club, nobody who has signed.

use tarn_domain::quarantine::{Cause, Member, SignedOff, UnitState};
use tarn_domain::streams::{At, StockId};

use super::Scene;
use crate::platform::html::Link;
use crate::platform::parts::{Blocker, Told, Way};
use crate::platform::words::{RunKind, Words};
use crate::quarantine::views::course::{called, treatments};
use crate::quarantine::views::people::{You, and};

/// What comes first.
pub(super) fn before(scene: &Scene<'_>) -> Vec<Blocker> {
    let all = [recalled(scene), treated(scene), breached(scene)];
    all.into_iter().flatten().collect()
}

/// What comes last: whoever would clear the unit.
pub(super) fn after(scene: &Scene<'_>) -> Option<Blocker> {
    if scene.people.clubs.is_empty() {
        return Some(no_club());
    }
    let of = scene.of;
    let is_due = of.unit.is_done(of.look.now());
    is_due.then(|| signature(scene))
}

fn recalled(scene: &Scene<'_>) -> Option<Blocker> {
    let (of, wall) = (scene.of, scene.of.look.wall);
    let op = of.unit.recalled?;
    let facts = scene.teller.names.states.facts?;
    let signed = facts.signed.iter().find(|signed| signed.op == op)?;
    let by = of.look.quarantine.recalled.get(&op).into_iter().flatten();
    let mut list: Vec<Told> = by
        .filter_map(|op| {
            let came = wall.moment(of.traces.get(*op)?.received.0.div_euclid(1000));
            scene.told(*op, &format!("; it reached the server on {came}"))
        })
        .collect();
    list.extend(sent_since(scene, signed));
    let happened = format!(
        "It was given on {}. What came in later, and is dated before it, speaks against it: with that the unit was \
         not due then, had something in its way, or held other fish. It counts as never given.",
        wall.moment(signed.at.seconds())
    );
    let ways = vec![Way::say(
        "The days, and a new signature by a health steward. Whoever got fish of it since is told; ring them too.",
    )];
    Some(Blocker { list, ..Blocker::new("The sign-off was recalled", happened, ways) })
}

/// Parcels that took fish of the unit out of the room after its sign-off.
fn sent_since(scene: &Scene<'_>, signed: &SignedOff) -> Vec<Told> {
    let states = scene.teller.names.states;
    let held: Vec<StockId> = scene.of.unit.members.iter().map(|member| member.stock).collect();
    let of_unit = |stock: &StockId| held.contains(stock) || signed.says.members.contains(stock);
    let parcels = states.parcels.values().filter(|parcel| parcel.sent.is_some());
    let sent = parcels.filter_map(|parcel| {
        let (_, at) = parcel.handed?;
        let n: i64 = parcel.rows.iter().filter(|row| of_unit(&row.stock)).map(|row| row.n.get()).sum();
        (at >= signed.at && n > 0).then_some((at, n, parcel.to.as_deref()))
    });
    let told = |(at, n, to): (At, i64, Option<&str>)| Told {
        words: Words::plain("Sent since: ").and(
            RunKind::Plain,
            format!("{n} to {}, {}.", to.unwrap_or("somebody"), scene.of.look.wall.moment(at.seconds())),
        ),
        link: None,
    };
    sent.map(told).collect()
}

fn treated(scene: &Scene<'_>) -> Option<Blocker> {
    let wall = scene.of.look.wall;
    if scene.of.unit.due.is_some() || scene.of.unit.state == UnitState::InTheBag {
        return None;
    }
    let names = scene.teller.names;
    let all = treatments(scene.of, scene.teller).into_iter().filter(|t| t.until.is_none());
    let told = all.map(|t| {
        let water = match (t.state.system, t.state.tank) {
            (Some(system), _) => names.system(system),
            (None, Some(tank)) => names.tank(tank),
            (None, None) => "The water".into(),
        };
        format!("{water} has been treated since {}: {}.", wall.moment(t.from.seconds()), called(t.state))
    });
    let mut happened: Vec<String> = told.collect();
    happened.push("While a treatment runs the days don\u{2019}t, and no day can be told.".into());
    let who = if scene.people.you == You::Keeper { "You write" } else { "The keeper writes" };
    Some(Blocker::new(
        "A treatment runs",
        happened.join(" "),
        vec![Way::say(format!(
            "{who} down its end when the label and the veterinarian say that it is over and what was put in is out of \
             the water. From then on the days begin again. Ending it early for the days\u{2019} sake helps nobody."
        ))],
    ))
}

fn breached(scene: &Scene<'_>) -> Option<Blocker> {
    let (of, wall, names) = (scene.of, scene.of.look.wall, scene.teller.names);
    let met: Vec<&Member> =
        of.unit.members.iter().filter(|m| matches!(m.cause, Cause::Breach | Cause::Companion)).collect();
    let since = met.iter().map(|m| m.since).min()?;
    let on_purpose = met.iter().all(|m| m.cause == Cause::Companion);
    let list = met.iter().map(|member| {
        let stays = names.states.stocks.get(&member.stock).map(|stock| stock.stays.as_slice());
        let stay =
            stays.unwrap_or_default().iter().rfind(|stay| stay.from <= member.since && stay.tank.is_some());
        let tank = stay.and_then(|stay| stay.tank);
        let system = tank.and_then(|tank| names.states.tanks.get(&tank)?.system_at(member.since));
        let place = match (tank, system) {
            (Some(tank), Some(system)) => format!(" in {} on {}", names.tank(tank), names.system(system)),
            (Some(tank), None) => format!(" in {}", names.tank(tank)),
            _ => String::new(),
        };
        let after = format!("{place}, since {}.", wall.moment(member.since.seconds()));
        Told { words: names.stock(member.stock).and(RunKind::Plain, after), link: None }
    });
    let list: Vec<Told> = list.collect();
    let (title, who) = if on_purpose {
        ("Test companions share this water", "They were put to the fish on purpose.")
    } else {
        ("Home fish share this water", "They were here before and began to share the water.")
    };
    let happened = format!(
        "{who} From {} on they are held with the unit and are cleared with it; their days begin there.",
        wall.moment(since.seconds())
    );
    let ways = vec![Way::say(
        "The days of the whole unit, and a steward\u{2019}s signature. Taking them out again does not undo it. Move no \
         further fish, water or nets between this water and others, so that nothing else is reached; close the valve \
         where the waters join. If fish are ill, their care comes first, with a veterinarian where one can be had.",
    )];
    Some(Blocker { list, ..Blocker::new(title, happened, ways) })
}

/// Nobody can clear the units of a room without a club.
fn no_club() -> Blocker {
    Blocker::new(
        "The room has no home club",
        "The shipped rule runs as advice. Days are counted, but nobody can clear the unit, and nothing of it may leave \
         through the program: days completed, not cleared.",
        vec![Way::say(
            "Name a home club whose member you are, with the client. Its stewards then see the unit.",
        )],
    )
}

fn signature(scene: &Scene<'_>) -> Blocker {
    let people = scene.people;
    let waiting: Vec<String> =
        people.clubs.iter().filter(|club| club.signed_by.is_none()).map(|club| club.name.clone()).collect();
    let signed: Vec<String> = people
        .clubs
        .iter()
        .filter_map(|club| Some(format!("{} has signed for {}.", club.signed_by.as_ref()?, club.name)))
        .collect();
    let title = if signed.is_empty() {
        "A signature is missing"
    } else {
        "Another club\u{2019}s signature is missing"
    };
    let mut happened = signed;
    happened.push(format!(
        "The days are done. A health steward of {} who is no party has to look at the fish and sign: one who does not \
         keep them, did not give them, and wrote nothing in their records.",
        and(waiting)
    ));
    let sign = format!("/sign-off/{}/{}", scene.of.look.id, scene.of.unit.id);
    let way = match &people.you {
        You::Keeper => Way::say(format!(
            "A steward reads the record and signs. {} You can\u{2019}t do this yourself.",
            people.ask()
        )),
        You::Party => {
            Way::say("Another steward reads the record and signs. You are a party, so you can\u{2019}t.")
        }
        You::Done => Way::say(format!("Your club has signed. {}", people.ask())),
        You::Steward(..) => Way {
            sentence: "You read the record and sign, or leave it unsigned.".into(),
            link: Some(Link { href: sign, words: "Read and sign".into() }),
            ..Way::default()
        },
    };
    Blocker::new(title, happened.join(" "), vec![way])
}
