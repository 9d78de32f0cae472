//! The pages of a room's waters: how much there is, what was read and what it means, how it went, and a label's rate
//! multiplied. Asks no database; what numbers mean is the domain's.

mod all;
mod how;
mod one;
mod trend;

use askama::Template;

use crate::platform::drawing::Picture;
use crate::platform::html::{Field, FormErrors, Link, Page};
use crate::platform::parts::Fact;
use crate::platform::words::Words;

pub use all::{gather as gather_waters, page as waters_page};
pub use one::{Asked, page as water_page};

/// `/rooms/{room}/water`.
#[derive(Template)]
#[template(path = "rooms/waters.html")]
pub struct WatersPage {
    /// Layout.
    pub page: Page,
    /// How things stand.
    pub lead: Words,
    /// Systems, then tanks on their own water.
    pub waters: Vec<WaterPart>,
    /// For the foot of a printed leaf.
    pub printed: String,
}

/// One water among all.
pub struct WaterPart {
    /// Its name.
    pub name: String,
    /// Its page.
    pub href: String,
    /// Volume, newest readings, what they mean.
    pub facts: Vec<Fact>,
    /// How its pH, or what is read most, went; only where there are few waters.
    pub trend: Option<TrendPart>,
}

/// `/rooms/{room}/water/{water}`.
#[derive(Template)]
#[template(path = "rooms/water.html")]
pub struct WaterPage {
    /// Layout.
    pub page: Page,
    /// Volume, the newest reading, what may harm.
    pub lead: Words,
    /// What is wrong with the rate that was typed.
    pub errors: Option<FormErrors>,
    /// The newest readings and what they mean.
    pub facts: Vec<Fact>,
    /// How much there is, and how that is known.
    pub volumes: Vec<Fact>,
    /// How each measure went.
    pub trends: Vec<TrendPart>,
    /// The newest first.
    pub readings: Vec<ReadingRow>,
    /// What a label's rate comes to.
    pub rate: RatePart,
    /// The way to all waters.
    pub back: Link,
    /// The page of the room's probes.
    pub probes: String,
    /// For the foot of a printed leaf.
    pub printed: String,
}

/// How one measure went.
pub struct TrendPart {
    /// Its id in the page.
    pub id: &'static str,
    /// "pH".
    pub title: String,
    /// The picture.
    pub picture: Picture,
    /// The same in words.
    pub words: String,
}

/// An entry of readings.
pub struct ReadingRow {
    /// When.
    pub when: String,
    /// As they are kept.
    pub values: String,
    /// As they were typed.
    pub typed: String,
    /// In which tank, and what ammonia means.
    pub note: Option<String>,
}

/// The form for a label's rate.
pub struct RatePart {
    /// Where it goes.
    pub action: String,
    /// `rate`.
    pub field: Field,
    /// What it comes to.
    pub amount: Option<Amount>,
    /// Why nothing can be multiplied.
    pub missing: Option<String>,
    /// For the fish.
    pub cautions: &'static [&'static str],
    /// For people.
    pub for_people: &'static [&'static str],
}

/// A rate times a volume.
pub struct Amount {
    /// The rate as it was understood.
    pub rate: String,
    /// For how much water.
    pub water: String,
    /// What it comes to.
    pub amount: String,
}
