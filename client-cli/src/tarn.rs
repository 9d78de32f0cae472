//! What every command works with: the local file, the room in use, the time, the output.

use std::collections::HashMap;
use std::path::PathBuf;

use serde_json::{Value, json};
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::{StockState, TankState};
use tarn_domain::state::EntityState;
use tarn_domain::streams::{At, Entity, EntityKind, OpId, StockId, StreamId, SystemId, TankId};

use crate::clock;
use crate::failure::{Failure, Outcome};
use crate::find::{find, label, short};
use crate::folder::Folder;
use crate::output::Output;
use crate::store::{GONE, NewOp, Recorded, Store, StoreError, StreamRow};
use crate::when::{self, Zone};

/// The setting that names the room in use.
pub const ROOM_IN_USE: &str = "room";

/// One command's world.
#[derive(Debug)]
pub struct Tarn {
    /// The data folder.
    pub folder: Folder,
    /// The local file.
    pub store: Store,
    /// Where answers go.
    pub out: Output,
    offset_ms: i64,
    room: Option<String>,
}

impl Tarn {
    /// Opens the local file.
    ///
    /// # Errors
    /// When it can't be opened.
    pub fn open(data: Option<PathBuf>, offset_ms: i64, room: Option<String>, json: bool) -> Outcome<Self> {
        let folder = Folder::open(data)?;
        let store = Store::open(&folder.records(&folder.in_use()))?;
        Ok(Self { folder, store, out: Output::new(json), offset_ms, room })
    }

    /// What the machine's clock shows, shifted if that was asked for.
    pub fn machine_ms(&self) -> i64 {
        clock::wall_ms() + self.offset_ms
    }

    /// Now, as far as this device knows.
    ///
    /// # Errors
    /// The file.
    pub fn now(&self) -> Outcome<At> {
        let ms = self.machine_ms() + self.store.clock_correction_ms()?;
        Ok(At::from_seconds(ms.div_euclid(1000)))
    }

    /// The room of this command, folded up to date.
    ///
    /// # Errors
    /// When there is none, or several and none is in use.
    pub fn room(&mut self) -> Outcome<StreamRow> {
        let rooms = self.rooms()?;
        let room = match &self.room {
            Some(typed) => find_room(typed, &rooms)?,
            None => self.room_in_use(&rooms)?,
        };
        match self.store.catch_up(&room) {
            Ok(()) | Err(StoreError::ReadOnly) => Ok(room),
            Err(error) => Err(error.into()),
        }
    }

    /// A room by its id, folded up to date.
    ///
    /// # Errors
    /// When it isn't here.
    pub fn use_room(&mut self, id: StreamId) -> Outcome<StreamRow> {
        self.room = Some(id.to_string());
        self.room()
    }

    /// All rooms known here.
    ///
    /// # Errors
    /// The file.
    pub fn rooms(&self) -> Outcome<Vec<StreamRow>> {
        Ok(self.store.streams()?.into_iter().filter(|s| s.kind == "room").collect())
    }

    fn room_in_use(&self, rooms: &[StreamRow]) -> Outcome<StreamRow> {
        let in_use = self.store.setting(ROOM_IN_USE)?;
        if let Some(room) = rooms.iter().find(|r| in_use.as_deref() == Some(r.id.to_string().as_str())) {
            return Ok(room.clone());
        }
        match rooms {
            [] => Err(Failure::refused("there is no room here yet")
                .hint("tarn room create NAME, or tarn sync if the room is on the server")),
            [only] => Ok(only.clone()),
            _ => Err(Failure::wrong_use("there are several rooms here")
                .hint("tarn room use NAME, or --room NAME for one command")),
        }
    }

    /// The zone in which a room's keepers read the clock.
    pub fn zone(&self, room: &StreamRow) -> Zone {
        room.zone.parse().unwrap_or(Zone::UTC)
    }

    /// A typed time that has come.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn at(&self, room: &StreamRow, typed: Option<&str>) -> Outcome<Option<At>> {
        let now = self.now()?;
        let read = |text: &str| when::at(text, now, self.zone(room)).map_err(Failure::wrong_use);
        typed.map(read).transpose()
    }

    /// A typed time that may be to come.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn at_any_time(&self, room: &StreamRow, typed: Option<&str>) -> Outcome<Option<At>> {
        let now = self.now()?;
        let read = |text: &str| when::any_time(text, now, self.zone(room)).map_err(Failure::wrong_use);
        typed.map(read).transpose()
    }

    /// Writes one op.
    ///
    /// # Errors
    /// The file; then nothing was recorded.
    pub fn record(&mut self, room: &StreamRow, at: Option<At>, body: Body) -> Outcome<Recorded> {
        let all = self.record_all(room, vec![(at, body)])?;
        all.first().copied().ok_or_else(|| Failure::refused("nothing was recorded"))
    }

    /// Writes several ops, all or none.
    ///
    /// # Errors
    /// The file; then nothing was recorded.
    pub fn record_all(&mut self, room: &StreamRow, ops: Vec<(Option<At>, Body)>) -> Outcome<Vec<Recorded>> {
        if room.rights == GONE {
            let words = "was given up: nothing more is written into it";
            return Err(
                Failure::refused(format!("{} {words}", room.name)).hint("tarn room use names another.")
            );
        }
        if room.rights != "write" {
            return Err(Failure::refused(format!("you may read {}, but not write in it", room.name)));
        }
        let machine_ms = self.machine_ms();
        let ops = ops.into_iter().map(|(at, body)| NewOp { id: OpId(clock::new_id()), at, body }).collect();
        Ok(self.store.write::<_, StoreError>(|work| work.record(room, machine_ms, ops))?)
    }

    /// Tells what was recorded: a message for people, the ids for programs.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn tell(&self, recorded: Recorded, says: &str, ids: &[(&str, Value)]) -> Outcome {
        if self.out.is_json() {
            let mut all = json!({ "op": recorded.id, "at": recorded.at });
            for (name, id) in ids {
                all[*name] = id.clone();
            }
            return self.out.data(&all);
        }
        self.out.say(says);
        Ok(())
    }

    /// A tank by what was typed.
    ///
    /// # Errors
    /// None, or several.
    pub fn tank(&self, room: &StreamRow, typed: &str) -> Outcome<TankId> {
        let all = self.store.named(room, EntityKind::Tank)?;
        Ok(TankId(find("tank", typed, &all, |_| false)?.id))
    }

    /// A water system by what was typed.
    ///
    /// # Errors
    /// None, or several.
    pub fn system(&self, room: &StreamRow, typed: &str) -> Outcome<SystemId> {
        let all = self.store.named(room, EntityKind::System)?;
        Ok(SystemId(find("water system", typed, &all, |_| false)?.id))
    }

    /// A stock by what was typed, with its state. Of several of one name, the one that has fish is meant.
    ///
    /// # Errors
    /// None, or several.
    pub fn stock(&self, room: &StreamRow, typed: &str) -> Outcome<(StockId, StockState)> {
        let all = self.store.named(room, EntityKind::Stock)?;
        let has_fish = |entity| {
            let state = self.store.state(room, entity);
            matches!(state, Ok(Some(EntityState::Stock(stock))) if stock.total() > 0)
        };
        let entity = find("stock", typed, &all, has_fish)?;
        Ok((StockId(entity.id), self.stock_state(room, StockId(entity.id))?))
    }

    /// The state of a stock.
    ///
    /// # Errors
    /// When it isn't here.
    pub fn stock_state(&self, room: &StreamRow, id: StockId) -> Outcome<StockState> {
        match self.store.state(room, id.into())? {
            Some(EntityState::Stock(stock)) => Ok(*stock),
            _ => Err(Failure::refused(format!("the stock {id} is not in this room"))),
        }
    }

    /// The state of a tank.
    ///
    /// # Errors
    /// When it isn't here.
    pub fn tank_state(&self, room: &StreamRow, id: TankId) -> Outcome<TankState> {
        match self.store.state(room, id.into())? {
            Some(EntityState::Tank(tank)) => Ok(tank),
            _ => Err(Failure::refused(format!("the tank {id} is not in this room"))),
        }
    }

    /// What everything of some kinds is called.
    ///
    /// # Errors
    /// The file.
    pub fn names(&self, room: &StreamRow, kinds: &[EntityKind]) -> Outcome<Names> {
        let mut names = HashMap::new();
        for kind in kinds {
            for thing in self.store.named(room, *kind)? {
                names.insert(thing.entity, label(&thing));
            }
        }
        Ok(Names(names))
    }
}

/// A room by its name or id, or an unambiguous beginning.
///
/// # Errors
/// None, or several.
pub fn find_room(typed: &str, rooms: &[StreamRow]) -> Outcome<StreamRow> {
    let lower = typed.trim().to_lowercase();
    let exact: Vec<&StreamRow> =
        rooms.iter().filter(|r| r.name.to_lowercase() == lower || r.id.to_string() == lower).collect();
    let begins = |r: &&StreamRow| {
        r.name.to_lowercase().starts_with(&lower) || crate::find::is_part_of_id(&lower, r.id.0)
    };
    let matches: Vec<&StreamRow> =
        if exact.is_empty() { rooms.iter().filter(begins).collect() } else { exact };
    match matches[..] {
        [one] => Ok(one.clone()),
        [] => Err(Failure::wrong_use(format!("there is no room {typed:?} here")).hint("tarn room list")),
        _ => Err(Failure::wrong_use(format!("{typed:?} may be any of several rooms")).hint("tarn room list")),
    }
}

/// What things are called.
#[derive(Debug, Default)]
pub struct Names(HashMap<Entity, String>);

impl Names {
    /// The name of a thing; the end of its id if it has none.
    pub fn of(&self, entity: impl Into<Entity>) -> String {
        let entity = entity.into();
        self.0.get(&entity).cloned().unwrap_or_else(|| short(entity.id))
    }

    /// Whether a thing is known by name.
    pub fn knows(&self, entity: impl Into<Entity>) -> bool {
        self.0.contains_key(&entity.into())
    }

    /// The name of a place: a tank, or the bag.
    pub fn place(&self, place: Option<TankId>) -> String {
        place.map_or_else(|| "in the bag".into(), |tank| self.of(tank))
    }
}
