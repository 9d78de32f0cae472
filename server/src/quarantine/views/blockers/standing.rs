//! What is in the way as long as things stand as they do: a recalled sign-off, a treatment, home fish in the water, no
//! club, nobody who has signed.

use tarn_domain::quarantine::{Cause, Member, SignedOff, UnitState};
use tarn_domain::streams::{At, ClubId, OpId, StockId};

use super::{Scene, bag};
use crate::platform::html::Link;
use crate::platform::parts::{Blocker, Deed, Told, Way};
use crate::platform::words::{RunKind, Words};
use crate::quarantine::views::course::{Treated, called, treatments, water_of};
use crate::quarantine::views::people::{You, and};

/// What comes first.
pub(super) fn before(scene: &Scene<'_>, new: &mut dyn FnMut() -> OpId) -> Vec<Blocker> {
    let all = [bag::in_the_bag(scene, new), recalled(scene), treated(scene, new), breached(scene)];
    all.into_iter().flatten().collect()
}

/// What comes last: whoever would clear the unit.
pub(super) fn after(scene: &Scene<'_>) -> Option<Blocker> {
    if scene.people.clubs.is_empty() {
        return Some(no_club(scene));
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

fn treated(scene: &Scene<'_>, new: &mut dyn FnMut() -> OpId) -> Option<Blocker> {
    let wall = scene.of.look.wall;
    if scene.of.unit.due.is_some() || scene.of.unit.state == UnitState::InTheBag {
        return None;
    }
    let all: Vec<_> = treatments(scene.of, scene.teller).into_iter().filter(|t| t.until.is_none()).collect();
    let told = all.iter().map(|t| {
        let water = water_of(scene.teller, t.state);
        format!("{water} has been treated since {}: {}.", wall.moment(t.from.seconds()), called(t.state))
    });
    let mut happened: Vec<String> = told.collect();
    happened.push("While a treatment runs the days don\u{2019}t, and no day can be told.".into());
    let is_keeper = scene.people.you == You::Keeper;
    let who = if is_keeper { "You write" } else { "The keeper writes" };
    let mut ways = vec![Way::say(format!(
        "{who} down its end when the label and the veterinarian say that it is over and what was put in is out of the \
         water. From then on the days begin again. Ending it early for the days\u{2019} sake helps nobody."
    ))];
    if is_keeper {
        let deed = |t: &Treated<'_>| Deed {
            words: match all.len() {
                1 => "The treatment is over".into(),
                _ => format!("It is over: {}", called(t.state)),
            },
            action: scene.action("treatment-ended"),
            hidden: vec![("id", new().to_string()), ("treatment", t.id.to_string())],
        };
        let mut deeds = all.iter().map(deed);
        ways[0].deed = deeds.next();
        ways.extend(deeds.map(|deed| Way { deed: Some(deed), ..Way::default() }));
    }
    let mut blocker = Blocker::new("A treatment runs", happened.join(" "), ways);
    // Several treatments have to end, and it is one way.
    blocker.clears = "What clears it";
    Some(blocker)
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
fn no_club(scene: &Scene<'_>) -> Blocker {
    let clubs = &scene.people.could_join;
    let deed = |(id, name): &(ClubId, String)| Deed {
        words: format!("Name {name}"),
        action: scene.action("home-club"),
        hidden: vec![("club", id.to_string())],
    };
    let mut deeds = clubs.iter().map(deed);
    let sentence = match (scene.people.you == You::Keeper, clubs.len()) {
        (true, 1..) => {
            "You name a home club. Its rule holds from then on, and its stewards see the unit. It stays a club of this \
             unit even if you name another one later."
        }
        (true, 0) => "You become a member of a club on this server and name it as home club.",
        (false, _) => "The keeper names a home club. Its stewards then see the unit.",
    };
    let mut ways = vec![Way { deed: deeds.next(), ..Way::say(sentence) }];
    ways.extend(deeds.map(|deed| Way { deed: Some(deed), ..Way::default() }));
    let mut blocker = Blocker::new(
        "The room has no home club",
        "The shipped rule runs as advice. Days are counted, but nobody can clear the unit, and nothing of it may leave \
         through the program: days completed, not cleared.",
        ways,
    );
    blocker.clears = "What clears it";
    blocker
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
    let title = match (signed.is_empty(), waiting.len()) {
        (true, 0 | 1) => "A signature is missing",
        (true, _) => "A signature of each club is missing",
        (false, _) => "Another club\u{2019}s signature is missing",
    };
    let mut happened = vec!["The days are done.".to_owned()];
    happened.extend(signed);
    let of = match waiting.len() {
        0 | 1 => and(waiting),
        _ => format!("each club, {},", and(waiting)),
    };
    happened.push(format!(
        "A health steward of {of} has to look at the fish and sign, and be no party: one who does not keep them, did not \
         give them, and wrote nothing in their records."
    ));
    let sign = format!("/sign-off/{}/{}", scene.of.look.id, scene.of.unit.id);
    let way = match &people.you {
        You::Keeper => Way::say(format!(
            "A steward reads the record and signs. {} You can\u{2019}t do this yourself.",
            people.ask_each()
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
