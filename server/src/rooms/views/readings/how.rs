//! What one water's volume and readings are, as facts in words.

use tarn_domain::rooms::ops::Reading;
use tarn_domain::rooms::water::ammonia::SOURCE;
use tarn_domain::rooms::water::derived::derived;
use tarn_domain::rooms::water::meaning::{Meaning, Value, newest, of_ammonia};
use tarn_domain::rooms::water::trend::{Point, Trend};
use tarn_domain::rooms::water::volumes::{Told, Volumes, litres, missing_words};
use tarn_domain::rooms::words::Measure;

use super::TrendPart;
use super::trend::{in_words, picture, title, with_unit};
use crate::platform::day::Wall;
use crate::platform::parts::Fact;
use crate::platform::words::{RunKind, Words};
use crate::rooms::actions::water::{Readings, Which, values};
use crate::rooms::views::Names;

/// An older reading is no longer how the water is.
const LATELY_DAYS: i64 = 7;

/// One water, its readings gathered.
pub struct Water<'a> {
    /// Which.
    pub which: Which,
    /// The newest first.
    pub readings: Vec<Readings>,
    /// The same, value by value.
    pub values: Vec<Value>,
    /// How much there is.
    pub volumes: Volumes,
    names: Names<'a>,
    wall: Wall,
}

fn fact(name: &str, value: Words) -> Fact {
    Fact { name: name.to_owned(), value }
}

impl<'a> Water<'a> {
    /// Puts it together; none if it is not in the room.
    pub fn of(which: Which, readings: Vec<Readings>, names: Names<'a>, wall: Wall) -> Option<Self> {
        let values = values(&readings);
        Some(Self { which, readings, values, volumes: which.volumes(names.states)?, names, wall })
    }

    /// What it is called.
    pub fn name(&self) -> String {
        match self.which {
            Which::System(id) => self.names.system(id),
            Which::Tank(id) => self.names.tank(id),
        }
    }

    /// What the newest reading of ammonia means.
    pub fn ammonia(&self) -> Option<Meaning> {
        newest(&self.values, Measure::Ammonia).map(|total| of_ammonia(*total, &self.values))
    }

    /// Whether the newest reading of ammonia is above what may harm, and not so old that it says nothing of today.
    pub fn may_harm(&self) -> bool {
        let lately = |meaning: &Meaning| self.wall.days_since(meaning.total.at.seconds()) <= LATELY_DAYS;
        let harms = |meaning: &Meaning| meaning.unionised.is_ok_and(|found| found.may_harm());
        self.ammonia().is_some_and(|meaning| lately(&meaning) && harms(&meaning))
    }

    /// Gross and net, and how they are known.
    pub fn volume_facts(&self) -> Vec<Fact> {
        let told = |told: &Told| match told {
            Ok(volume) => Words::default()
                .and(RunKind::Strong, litres(volume.ml))
                .and(RunKind::Plain, format!(", {}.", volume.how.words())),
            Err(missing) => Words::plain(format!("Not known. {}", self.missing(missing))),
        };
        vec![fact("Net", told(&self.volumes.net)), fact("Gross", told(&self.volumes.gross))]
    }

    /// What is missing for a volume.
    pub fn missing(&self, missing: &[tarn_domain::rooms::water::volumes::Missing]) -> String {
        missing_words(missing, |tank| self.names.tank(tank))
    }

    /// "480 l net" or that it is not known.
    pub fn net_in_short(&self) -> String {
        match &self.volumes.net {
            Ok(net) => format!("{} net", litres(net.ml)),
            Err(_) => "Net volume not known".into(),
        }
    }

    /// The newest of each measure, with its day.
    pub fn newest_facts(&self) -> Vec<Fact> {
        let mut facts = Vec::new();
        for what in Measure::ALL {
            let Some(value) = newest(&self.values, *what) else { continue };
            let day = self.wall.lately(value.at.seconds());
            let words = Words::default()
                .and(RunKind::Strong, with_unit(*what, value.milli))
                .and(RunKind::Plain, format!(", {day}"));
            facts.push(fact(&title(*what), words));
            if *what == Measure::Ammonia {
                facts.extend(
                    self.ammonia().map(|meaning| fact("Un-ionised ammonia", self.of_ammonia(&meaning))),
                );
            }
        }
        facts
    }

    /// What follows by named formulas.
    pub fn derived_facts(&self) -> Vec<Fact> {
        let all = derived(&self.values).into_iter();
        all.map(|d| fact(d.name, Words::plain(format!("{}. {}.", d.says, d.by)))).collect()
    }

    fn of_ammonia(&self, meaning: &Meaning) -> Words {
        let range = format!("{SOURCE}; for fresh water, 0 to 30\u{a0}°C, pH 6 to 10");
        let found = match &meaning.unionised {
            Ok(found) => found,
            Err(why) => return Words::plain(format!("Not reckoned: {why}. ({range}.)")),
        };
        let words = Words::default().and(RunKind::Strong, format!("{found} NH3")).and(
            RunKind::Plain,
            format!(", {:.1}\u{a0}% of the total{}.", found.fraction * 100.0, self.with(meaning)),
        );
        let words = if found.may_harm() {
            words
                .and(RunKind::Plain, " ")
                .and(RunKind::Strong, "May harm fish")
                .and(RunKind::Plain, ": more than 0.05\u{a0}mg/L.")
        } else {
            words.and(RunKind::Plain, " A low value is no promise of safety.")
        };
        words.and(RunKind::Plain, format!(" ({range}.)"))
    }

    /// With which pH and temperature, where they were read at another time.
    fn with(&self, meaning: &Meaning) -> String {
        if meaning.is_of_one_moment() {
            return String::new();
        }
        let of = |value: &Value| {
            let name = if value.what == Measure::Ph { "pH\u{a0}" } else { "" };
            format!("{name}{} of {}", with_unit(value.what, value.milli), self.wall.brief(value.at.seconds()))
        };
        let all: Vec<String> = [meaning.ph, meaning.temperature].iter().flatten().map(of).collect();
        format!(", with {}", all.join(" and "))
    }

    /// How each measure went that was read more than once.
    pub fn trends(&self) -> Vec<TrendPart> {
        let of = |what: Measure| {
            let points = self.values.iter().filter(|v| v.what == what);
            let trend = Trend::of(what, points.map(|v| Point { at: v.at, milli: v.milli }))?;
            (trend.points.len() > 1).then(|| TrendPart {
                id: what.word(),
                title: title(what),
                picture: picture(what, &trend, &self.name(), self.wall),
                words: in_words(what, &trend, self.wall),
            })
        };
        let mut measures = Measure::ALL.to_vec();
        // pH tells most of how a water goes
        measures.sort_by_key(|what| *what != Measure::Ph);
        measures.into_iter().filter_map(of).collect()
    }

    /// The day of an entry.
    pub fn day_of(&self, entry: &Readings) -> String {
        self.wall.lately(entry.at.seconds())
    }

    /// What was typed: "75.2 F".
    pub fn typed(reading: &Reading) -> String {
        if reading.unit.is_empty() {
            return reading.typed.clone();
        }
        format!("{}\u{a0}{}", reading.typed, reading.unit)
    }
}
