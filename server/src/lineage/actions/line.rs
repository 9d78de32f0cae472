//! What several keepers keep of one line: its broods, how many of each live, and when they were last counted. Nothing
//! of the rooms they are in.

use std::collections::{BTreeMap, BTreeSet};

use tarn_domain::catalogue::Body;
use tarn_domain::lineage::BroodCopy;
use tarn_domain::rooms::{Node, Sex};
use tarn_domain::state::{Memory, view};
use tarn_domain::streams::{AccountId, At, Entity, NodeId, StockId, StreamId};

use crate::platform::day::Wall;
use crate::platform::{Ctx, Result};
use crate::{rooms, streams};

/// What some keepers keep of a line.
pub struct Kept {
    /// What others read of them; several where they keep a room together.
    pub who: Vec<String>,
    /// Its broods, by code.
    pub broods: Vec<KeptBrood>,
}

/// A brood of the line.
#[derive(Clone, Debug, Default)]
pub struct KeptBrood {
    /// Its code.
    pub code: String,
    /// `2026-05`.
    pub month: Option<String>,
    /// Colour or fin form.
    pub form: Option<String>,
    /// How many live, by sex, and whether that is a guess.
    pub numbers: Vec<(Sex, i64, bool)>,
    /// The day on which all its stocks had been counted; none: one of them never was, or none lives.
    pub counted: Option<chrono::NaiveDate>,
}

impl KeptBrood {
    /// How many of one sex.
    pub fn of_sex(&self, sex: Sex) -> i64 {
        self.numbers.iter().filter(|(of, ..)| *of == sex).map(|(_, n, _)| n).sum()
    }
}

/// Whether a brood is of a line: species and line are the same but for blanks at the ends and capitals.
fn is_of(brood: &BroodCopy, species: &str, line: &str) -> bool {
    let same = |own: &Option<String>, wanted: &str| {
        own.as_deref().is_some_and(|own| own.trim().to_lowercase() == wanted.trim().to_lowercase())
    };
    same(&brood.species, species) && same(&brood.line, line)
}

/// What these keepers keep of a line, by their names.
pub async fn of_rooms(ctx: &Ctx, keepers: &[AccountId], species: &str, line: &str) -> Result<Vec<Kept>> {
    let conn = &ctx.db.conn;
    let names = rooms::store::people(conn, keepers.iter().copied()).await?;
    // a room that several of them keep is told once
    let mut rooms: BTreeMap<StreamId, (String, BTreeSet<&str>)> = BTreeMap::new();
    for keeper in keepers {
        let Some(name) = names.get(keeper) else { continue };
        for room in rooms::store::rooms_of(conn, *keeper).await? {
            rooms.entry(StreamId(room.stream)).or_insert((room.zone, BTreeSet::new())).1.insert(name);
        }
    }
    let mut all: BTreeMap<Vec<String>, BTreeMap<NodeId, Found>> = BTreeMap::new();
    for (room, (zone, who)) in rooms {
        let wall = Wall::new(&zone, ctx.clock.now_ms());
        let who: Vec<String> = who.into_iter().map(str::to_owned).collect();
        let of_them = all.entry(who).or_default();
        let (held, _) = streams::room(ctx, room).await?;
        for (node, found) in in_room(&held.memory, species, line) {
            of_them.entry(node).or_insert_with(|| Found::of(&found.brood)).add(found, wall);
        }
    }
    let told = |(who, broods): (Vec<String>, BTreeMap<NodeId, Found>)| {
        let mut broods: Vec<KeptBrood> = broods.into_values().map(Found::told).collect();
        broods.sort_by(|a, b| a.code.cmp(&b.code));
        Kept { who, broods }
    };
    Ok(all.into_iter().map(told).collect())
}

/// One brood in one room.
struct InRoom {
    brood: BroodCopy,
    numbers: Vec<(Sex, i64, bool)>,
    /// When each stock with living fish of it was last counted.
    counted: Vec<Option<At>>,
}

/// The broods of the line that were bred in a room or live there.
fn in_room(memory: &Memory, species: &str, line: &str) -> Vec<(NodeId, InRoom)> {
    let states = view(memory.states());
    let mut all = Vec::new();
    for (&node, ancestor) in memory.lineage().iter() {
        let Some(brood) = ancestor.brood().filter(|brood| is_of(brood, species, line)) else { continue };
        let mut found = InRoom { brood: brood.clone(), numbers: Vec::new(), counted: Vec::new() };
        for (id, stock) in &states.stocks {
            let own: Vec<_> =
                stock.numbers.rows().filter(|((of, _), n)| *of == Node::Of(node) && *n != 0).collect();
            if stock.total() <= 0 || own.iter().map(|(_, n)| n).sum::<i64>() <= 0 {
                continue;
            }
            found.numbers.extend(own.into_iter().map(|(key, n)| (key.1, n, stock.about.contains(&key))));
            found.counted.push(last_counted(memory, *id));
        }
        if !found.counted.is_empty() || states.broods.contains_key(&node) {
            all.push((node, found));
        }
    }
    all
}

/// When a stock was last counted.
fn last_counted(memory: &Memory, stock: StockId) -> Option<At> {
    let counts = memory
        .touching(Entity::from(stock))
        .filter(|entry| entry.linked.live && matches!(entry.body.as_deref(), Some(Body::StockCounted(_))));
    counts.map(|entry| entry.linked.order.at).max()
}

/// One brood, over the rooms of the same keepers.
struct Found {
    told: KeptBrood,
    numbers: BTreeMap<Sex, (i64, bool)>,
    counted: Vec<Option<chrono::NaiveDate>>,
}

impl Found {
    fn of(brood: &BroodCopy) -> Self {
        let told = KeptBrood {
            code: brood.code.clone().unwrap_or_default(),
            month: brood.month.clone(),
            form: brood.form.clone(),
            ..KeptBrood::default()
        };
        Self { told, numbers: BTreeMap::new(), counted: Vec::new() }
    }

    fn add(&mut self, found: InRoom, wall: Wall) {
        for (sex, n, about) in found.numbers {
            let sum = self.numbers.entry(sex).or_insert((0, false));
            *sum = (sum.0 + n, sum.1 || about);
        }
        self.counted.extend(found.counted.into_iter().map(|at| Some(wall.calendar_day(at?.seconds()))));
    }

    fn told(self) -> KeptBrood {
        let all_counted: Option<Vec<chrono::NaiveDate>> = self.counted.into_iter().collect();
        KeptBrood {
            numbers: self.numbers.into_iter().map(|(sex, (n, about))| (sex, n, about)).collect(),
            counted: all_counted.and_then(|days| days.into_iter().min()),
            ..self.told
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_brood_is_of_a_line_by_species_and_line_together() {
        let brood = |species: Option<&str>, line: Option<&str>| BroodCopy {
            species: species.map(str::to_owned),
            line: line.map(str::to_owned),
            ..BroodCopy::default()
        };
        let is = |species, line| is_of(&brood(species, line), "Poecilia wingei", " Campo");
        assert!(is(Some(" poecilia Wingei "), Some("CAMPO")));
        assert!(!is(Some("Poecilia reticulata"), Some("Campo")));
        assert!(!is(Some("Poecilia wingei"), Some("Campona")));
        assert!(!is(None, Some("Campo")) && !is(Some("Poecilia wingei"), None));
    }
}
