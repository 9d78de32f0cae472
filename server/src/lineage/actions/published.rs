//! What a keeper publishes of a room's stock, and how others read it: fish that may leave, and nothing of where they
//! stand, what was noted of them or where they were caught.

use std::collections::BTreeMap;

use tarn_domain::rooms::{Node, Sex, StockState};
use tarn_domain::state::RoomStates;
use tarn_domain::streams::{AccountId, NodeId, StreamId};
use uuid::Uuid;

use crate::entities::published_rooms;
use crate::lineage::store::published as store;
use crate::platform::edits::Expected;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Actor, Ctx, Result, write};
use crate::rooms::actions::read::{Look, look};
use crate::rooms::store as rooms_store;

/// To whom a list is published.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Audience {
    /// To nobody.
    Nobody,
    /// To the members of the clubs of the room's keepers.
    Club,
    /// To everybody who is signed in.
    Everyone,
}

impl Audience {
    /// Its word in the API and in rows.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Nobody => "nobody",
            Self::Club => "club",
            Self::Everyone => "everyone",
        }
    }

    /// Of its word.
    pub fn parse(word: &str) -> Option<Self> {
        [Self::Nobody, Self::Club, Self::Everyone].into_iter().find(|audience| audience.as_str() == word)
    }
}

/// What is set for a room.
pub struct Setting {
    /// To whom.
    pub to: Audience,
    /// Whose shown name stands on it, if anybody's.
    pub name: Option<String>,
    /// What stands on it.
    pub who: String,
    /// The clubs whose members read it, if it goes to them.
    pub clubs: Vec<String>,
    /// Rises with every change; 0 before the first.
    pub version: i32,
}

/// What is set, for a keeper of the room.
///
/// # Errors
/// `not-found` for everybody else.
pub async fn setting(ctx: &Ctx, account: AccountId, room: StreamId) -> Result<Setting> {
    let conn = &ctx.db.conn;
    if !rooms_store::is_keeper(conn, room, account).await? {
        return Err(Problem::new(&NOT_FOUND));
    }
    let row = store::of_room(conn, room).await?.unwrap_or_else(|| unset(room));
    let name = store::names(conn, std::slice::from_ref(&row)).await?.remove(&room.0);
    let clubs = store::clubs_of_room(conn, room).await?.into_iter().map(|club| club.name).collect();
    let to = Audience::parse(&row.audience).unwrap_or(Audience::Nobody);
    let who = shown(ctx, room, name.clone()).await?;
    Ok(Setting { to, name, who, clubs, version: row.version })
}

fn unset(room: StreamId) -> published_rooms::Model {
    published_rooms::Model {
        room: room.0,
        audience: Audience::Nobody.as_str().to_owned(),
        named: None,
        version: 0,
        changed_ms: 0,
    }
}

/// Sets it. A keeper lets their own name stand on the list, never another's.
///
/// # Errors
/// `not-found` for everybody who does not keep the room, `if-match-missing`, `not-the-newest`.
pub async fn publish(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    room: StreamId,
    expected: &Expected,
    (to, with_name): (Audience, bool),
) -> Result<()> {
    write(ctx, actor, async |w| {
        rooms_store::lock(w.tx(), room).await?;
        if !rooms_store::is_keeper(w.tx(), room, account).await? {
            return Err(Problem::new(&NOT_FOUND));
        }
        let before = store::of_room(w.tx(), room).await?.unwrap_or_else(|| unset(room));
        expected.check(before.version)?;
        let row = published_rooms::Model {
            room: room.0,
            audience: to.as_str().to_owned(),
            named: with_name.then_some(account.0),
            version: before.version + 1,
            changed_ms: w.now,
        };
        store::save(w.tx(), row).await?;
        let name = if with_name { "with a name" } else { "without a name" };
        w.audit("lineage", format!("the stock list of room {room} goes to {}, {name}", to.as_str()));
        Ok(())
    })
    .await
}

/// What stands on a list as its breeder.
async fn shown(ctx: &Ctx, room: StreamId, name: Option<String>) -> Result<String> {
    if let Some(name) = name {
        return Ok(name);
    }
    let club = match store::home_club(&ctx.db.conn, room).await? {
        Some(club) => Some(club),
        None => store::clubs_of_room(&ctx.db.conn, room).await?.into_iter().next().map(|club| club.name),
    };
    Ok(club.map_or_else(|| "a keeper".to_owned(), |club| format!("a keeper of {club}")))
}

/// A list that the caller may read.
pub struct StockList {
    /// Of which room.
    pub room: StreamId,
    /// Whose it is: a shown name, or "a keeper of Fellside Fishkeepers".
    pub who: String,
    /// Whether the caller keeps the room.
    pub mine: bool,
    /// To whom it goes.
    pub to: Audience,
    /// The fish that may leave.
    pub rows: Vec<ListRow>,
}

/// Fish of one kind and brood.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ListRow {
    /// The species as kept.
    pub species: Option<String>,
    /// Colour or fin form.
    pub form: Option<String>,
    /// The trade name.
    pub trade: Option<String>,
    /// The brood's code; none: founders, or not told apart.
    pub code: Option<String>,
    /// How many, by sex, and whether that is a guess.
    pub numbers: Vec<(Sex, i64, bool)>,
}

impl ListRow {
    /// How many of one sex.
    pub fn of_sex(&self, sex: Sex) -> i64 {
        self.numbers.iter().filter(|(of, ..)| *of == sex).map(|(_, n, _)| n).sum()
    }
}

/// The lists that the caller may read, by the id of their room; and where the next ones begin.
pub async fn lists(
    ctx: &Ctx,
    account: AccountId,
    after: Option<Uuid>,
    most: u64,
) -> Result<(Vec<StockList>, Option<Uuid>)> {
    let mut rows = store::readable(&ctx.db.conn, account, after, most + 1).await?;
    let next = if rows.len() > usize::try_from(most).unwrap_or(usize::MAX) {
        rows.pop();
        rows.last().map(|row| row.room)
    } else {
        None
    };
    let names = store::names(&ctx.db.conn, &rows).await?;
    let mut all = Vec::new();
    for row in rows {
        all.push(read(ctx, account, &row, names.get(&row.room).cloned()).await?);
    }
    Ok((all, next))
}

/// One list. Its keepers read it before it is published.
///
/// # Errors
/// `not-found` for whom it is not published to.
pub async fn list(ctx: &Ctx, account: AccountId, room: StreamId) -> Result<StockList> {
    let conn = &ctx.db.conn;
    let row = store::of_room(conn, room).await?;
    let published = match &row {
        Some(row) => match Audience::parse(&row.audience) {
            Some(Audience::Everyone) => true,
            Some(Audience::Club) => {
                let mine = store::clubs_of(conn, account).await?;
                store::clubs_of_room(conn, room).await?.iter().any(|club| mine.contains(club))
            }
            Some(Audience::Nobody) | None => false,
        },
        None => false,
    };
    if !published && !rooms_store::is_keeper(conn, room, account).await? {
        return Err(Problem::new(&NOT_FOUND));
    }
    let row = row.unwrap_or_else(|| unset(room));
    let name = store::names(conn, std::slice::from_ref(&row)).await?.remove(&room.0);
    read(ctx, account, &row, name).await
}

async fn read(
    ctx: &Ctx,
    account: AccountId,
    row: &published_rooms::Model,
    name: Option<String>,
) -> Result<StockList> {
    let room = StreamId(row.room);
    let mine = rooms_store::is_keeper(&ctx.db.conn, room, account).await?;
    let (seen, ()) = look(ctx, room, |_| ()).await?;
    Ok(StockList {
        room,
        who: shown(ctx, room, name).await?,
        mine,
        to: Audience::parse(&row.audience).unwrap_or(Audience::Nobody),
        rows: of_room(&seen),
    })
}

/// Species, form, trade name and brood of fish on a list.
type What = [Option<String>; 4];
/// How many of each sex, and whether that is a guess.
type Numbers = BTreeMap<Sex, (i64, bool)>;

/// The fish of a room that may leave, those of one kind and brood together.
fn of_room(look: &Look) -> Vec<ListRow> {
    let states = look.states();
    let named = Named::of(&states);
    let mut all: BTreeMap<What, Numbers> = BTreeMap::new();
    for (id, stock) in &states.stocks {
        if stock.total() <= 0 || look.quarantine.held(*id).is_some() {
            continue;
        }
        for ((node, sex), n) in stock.numbers.rows() {
            let about = stock.about.contains(&(node, sex));
            let sum = all.entry(named.key(stock, node)).or_default().entry(sex).or_insert((0, false));
            *sum = (sum.0 + n, sum.1 || about);
        }
    }
    let row = |(key, numbers): (What, Numbers)| {
        let [species, form, trade, code] = key;
        ListRow {
            species,
            form,
            trade,
            code,
            numbers: numbers.into_iter().map(|(sex, (n, about))| (sex, n, about)).collect(),
        }
    };
    let some = |row: &ListRow| row.numbers.iter().map(|(_, n, _)| n).sum::<i64>() > 0;
    all.into_iter().map(row).filter(some).collect()
}

/// What the broods of a room are called.
struct Named(BTreeMap<NodeId, What>);

impl Named {
    fn of(states: &RoomStates<'_>) -> Self {
        let broods = states.records().known().into_iter().filter_map(|(node, ancestor)| {
            let brood = ancestor.brood()?;
            Some((node, [&brood.species, &brood.form, &brood.trade, &brood.code].map(trimmed)))
        });
        Self(broods.collect())
    }

    fn key(&self, stock: &StockState, node: Node) -> What {
        let own = [trimmed(&stock.species), trimmed(&stock.form), None, None];
        let Node::Of(node) = node else { return own };
        let Some(brood) = self.0.get(&node) else { return own };
        let [species, form, ..] = own;
        let [of_brood, its_form, trade, code] = brood.clone();
        // the name as kept may have been changed for the whole brood since
        [of_brood.or(species), its_form.or(form), trade, code]
    }
}

fn trimmed(text: &Option<String>) -> Option<String> {
    text.as_deref().map(str::trim).filter(|text| !text.is_empty()).map(str::to_owned)
}
