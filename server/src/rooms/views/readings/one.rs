//! The page of one water.

use serde::Deserialize;
use tarn_domain::rooms::water::meaning::{Value, of_ammonia};
use tarn_domain::rooms::water::rate::{CAUTIONS, FOR_PEOPLE, NotARate, Rate};
use tarn_domain::rooms::words::Measure;

use super::how::Water;
use super::{Amount, RatePart, ReadingRow, WaterPage};
use crate::platform::errors::{INVALID, Problem};
use crate::platform::html::{Field, FormErrors, Link, Page};
use crate::platform::words::{RunKind, Words};
use crate::rooms::actions::read::Look;
use crate::rooms::actions::water::{Readings, Which};
use crate::rooms::views::entry::readings as in_words;
use crate::rooms::views::{Beside, Names};

/// How many entries the page lists.
const A_PAGE: usize = 100;

/// What the address asks for.
#[derive(Debug, Clone, Default, Deserialize)]
pub struct Asked {
    /// A label's rate, as it was typed.
    pub rate: Option<String>,
}

/// Puts the page together; none if there is no such water. With what is wrong with what was typed.
pub fn page(
    page: impl FnOnce(String) -> Page,
    look: &Look,
    which: Which,
    readings: Vec<Readings>,
    beside: Beside,
    asked: &Asked,
) -> Option<(WaterPage, Option<Problem>)> {
    let states = look.states();
    let names = Names { states: &states, beside };
    let water = Water::of(which, readings, names, look.wall)?;
    let typed = asked.rate.as_deref().map(str::trim).unwrap_or_default();
    let rate: Option<Result<Rate, NotARate>> = asked.rate.as_ref().map(|_| typed.parse());
    let problem = match &rate {
        Some(Err(_)) if typed.is_empty() => Some("Type the rate as the label has it.".to_owned()),
        Some(Err(why)) => Some(format!("{why}.")),
        _ => None,
    };
    let problem =
        problem.map(|why| Problem::new(&INVALID).detail("The rate can\u{2019}t be read.").at("/rate", why));
    let name = water.name();
    let home = format!("/rooms/{}/water", look.id);
    let mut facts = water.newest_facts();
    facts.extend(water.derived_facts());
    let answer = WaterPage {
        lead: lead(&water),
        errors: problem.as_ref().map(|problem| FormErrors::of("Not reckoned", problem)),
        facts,
        volumes: water.volume_facts(),
        trends: water.trends(),
        readings: water.readings.iter().take(A_PAGE).map(|r| row(&water, names, look, r)).collect(),
        rate: rate_part(&water, format!("{home}/{}", which.id()), typed, rate, problem.as_ref()),
        probes: format!("/rooms/{}/probes", look.id),
        back: Link { href: home, words: "All waters of this room".into() },
        printed: format!(
            "Water of {name}, {}, as recorded {}.",
            look.room.name,
            look.wall.moment(look.wall.now_s())
        ),
        page: page(format!("Water of {name}")),
    };
    Some((answer, problem))
}

fn lead(water: &Water<'_>) -> Words {
    let words = match water.may_harm() {
        true => Words::default()
            .and(RunKind::Strong, "Un-ionised ammonia may harm fish.")
            .and(RunKind::Plain, " "),
        false => Words::default(),
    };
    let read = match water.readings.first() {
        None => "No reading yet.".to_owned(),
        Some(newest) => water.newest_sentence(newest),
    };
    words.and(RunKind::Plain, format!("{}. {read}", water.net_in_short()))
}

fn row(water: &Water<'_>, names: Names<'_>, look: &Look, entry: &Readings) -> ReadingRow {
    let place = match (water.which, entry.read.system, entry.read.tank) {
        (Which::System(_), None, Some(tank)) => Some(format!("in {}", names.tank(tank))),
        _ => None,
    };
    let ammonia = entry.read.values.iter().find(|v| v.what == Measure::Ammonia);
    let means = ammonia.map(|v| Value { at: entry.at, what: v.what, milli: v.milli });
    let means = means.map(|total| match of_ammonia(total, &water.values).unionised {
        Ok(found) if found.may_harm() => format!("un-ionised {found} NH3: may harm"),
        Ok(found) => format!("un-ionised {found} NH3"),
        Err(why) => format!("un-ionised part not reckoned: {why}"),
    });
    let spread = entry.hourly.iter().map(|hourly| format!("a probe, {}", hourly.spread()));
    let notes: Vec<String> = place.into_iter().chain(spread).chain(means).collect();
    let by_hand = entry.read.values.iter().filter(|_| entry.hourly.is_empty());
    let typed = by_hand.map(Water::typed).collect::<Vec<_>>();
    ReadingRow {
        when: look.wall.moment(entry.at.seconds()),
        values: in_words(&entry.read.values),
        typed: typed.join(", "),
        note: (!notes.is_empty()).then(|| notes.join("; ")),
    }
}

fn rate_part(
    water: &Water<'_>,
    action: String,
    typed: &str,
    rate: Option<Result<Rate, NotARate>>,
    problem: Option<&Problem>,
) -> RatePart {
    let hint =
        "As the label has it: 5\u{a0}ml per 40\u{a0}l, 1\u{a0}g / 10\u{a0}l, 2\u{a0}drops per 10\u{a0}l.";
    let amount = match (rate, &water.volumes.net) {
        (Some(Ok(rate)), Ok(_)) => rate.times(&water.volumes.net).ok().map(|amount| Amount {
            rate: rate.to_string(),
            water: water.net_in_short(),
            amount: amount.to_string(),
        }),
        _ => None,
    };
    RatePart {
        action,
        field: Field::new("rate", "The label\u{2019}s rate").hint(hint).typed(typed, problem),
        amount,
        missing: water.volumes.net.as_ref().err().map(|missing| water.missing(missing)),
        cautions: &CAUTIONS,
        for_people: &FOR_PEOPLE,
    }
}

impl Water<'_> {
    /// "Read yesterday: 24.6 °C, pH 7.1."
    fn newest_sentence(&self, newest: &Readings) -> String {
        format!("Last read {}: {}.", self.day_of(newest), in_words(&newest.read.values))
    }
}
