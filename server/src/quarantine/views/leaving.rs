//! What may leave a room, and why other stocks may not. The clock says whether; here it is only told.

use tarn_domain::quarantine::Held;
use tarn_domain::state::{Quarantine, RoomStates};
use tarn_domain::streams::StockId;

use super::{LeavingPage, LeavingRow};
use crate::platform::day::Wall;
use crate::platform::html::{Link, Page};
use crate::platform::words::Words;
use crate::rooms::actions::read::Look;
use crate::rooms::views::{Beside, Names, how_many, natural};

/// Why a stock may not leave, in one line; none: it may.
pub fn held(quarantine: &Quarantine, stock: StockId, wall: Wall) -> Option<String> {
    Some(match quarantine.held(stock)? {
        Held::InTheBag => "May not leave: it is in the bag, and may only go back to whoever gave it.".into(),
        Held::Unit(Some(due)) if due.seconds() > wall.now_s() => {
            format!("May not leave: in quarantine, not before {}.", wall.day(due.seconds()))
        }
        Held::Unit(Some(_)) => "May not leave: its days are done, but no steward has cleared it.".into(),
        Held::Unit(None) => {
            "May not leave: in quarantine, and while a treatment runs no day can be told.".into()
        }
        Held::Waits(until) => format!(
            "May not leave before {}: the server has not known it, or as many of it, for the days of the rule.",
            wall.moment(until.seconds())
        ),
        Held::InDoubt(_) => {
            "May not leave: by entries that came late or were taken back it may have shared water \
            that is in quarantine. A steward reads them first."
                .into()
        }
    })
}

/// Puts the page together.
pub fn page(page: Page, look: &Look, beside: Beside) -> LeavingPage {
    let states = look.states();
    let names = Names { states: &states, beside };
    let living = states.stocks.iter().filter(|(_, stock)| stock.total() > 0);
    let mut rows: Vec<LeavingRow> = living.map(|(id, _)| row(look, &states, names, *id)).collect();
    rows.sort_by_cached_key(|row| (natural(&row.tank), row.name.text()));
    let (free, held): (Vec<_>, Vec<_>) = rows.into_iter().partition(|row| row.why.is_empty());
    let many = |n: usize, one: &str, more: &str| match n {
        0 => format!("No stock {one}"),
        1 => format!("One stock {one}"),
        n => format!("{n} stocks {more}"),
    };
    let lead = format!(
        "{}; {}.",
        many(free.len(), "may leave", "may leave"),
        many(held.len(), "may not", "may not").replace("No stock may not", "nothing is held").to_lowercase()
    );
    LeavingPage {
        page,
        lead,
        held,
        free,
        printed: format!("{}, as recorded {}.", look.room.name, look.wall.moment(look.wall.now_s())),
    }
}

fn row(look: &Look, states: &RoomStates<'_>, names: Names<'_>, id: StockId) -> LeavingRow {
    let stock = states.stocks.get(&id);
    let tank = stock.and_then(|stock| stock.place()).flatten();
    let unit = look.quarantine.unit_of(id).map(|at| look.quarantine.units()[at].id);
    LeavingRow {
        tank: tank.map_or_else(|| "none".into(), |tank| names.tank(tank)),
        name: names.stock(id),
        href: format!("/rooms/{}/stocks/{id}", look.id),
        how_many: Words::plain(stock.map_or_else(String::new, |stock| how_many(stock))),
        why: held(&look.quarantine, id, look.wall).unwrap_or_default(),
        unit: unit.map(|unit| Link { href: format!("/units/{}/{unit}", look.id), words: "Its unit".into() }),
    }
}
