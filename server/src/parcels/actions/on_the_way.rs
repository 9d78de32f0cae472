//! Parcels that are on their way to somebody, for their page, calendar and digest. Names nobody: a calendar must not.

use tarn_domain::streams::{AccountId, ParcelId};
use uuid::Uuid;

use crate::entities::rooms;
use crate::parcels::store::{self, Open};
use crate::platform::ahead::{Event, When};
use crate::platform::day::{DAY, Wall};
use crate::platform::{Ctx, Result};

/// A parcel that nobody ever records as arrived does not stay in the calendar for ever.
const SHOWN_DAYS: i64 = 7;

/// A parcel on its way, in the words of whoever it is for.
pub struct OnTheWay {
    /// Which.
    pub parcel: ParcelId,
    /// When it was handed over, in seconds.
    pub handed_s: i64,
    /// What is told.
    pub words: String,
}

/// What is told of a parcel by the clock of the one who waits for it.
pub fn told(open: &Open, wall: Wall) -> Option<OnTheWay> {
    let (_, handed) = open.state.handed?;
    let fish: i64 = open.state.rows.iter().map(|row| row.n.get()).sum();
    let what = if fish == 1 { "One fish".into() } else { format!("{fish}\u{a0}fish") };
    let words = format!(
        "{what} on the way to you, handed over {}. Say when they have arrived: their quarantine begins with it.",
        wall.moment(handed.seconds())
    );
    Some(OnTheWay { parcel: open.parcel, handed_s: handed.seconds(), words })
}

/// The clock of the first room of somebody; UTC for who keeps none.
pub fn wall_of(rooms: &[rooms::Model], now_ms: i64) -> Wall {
    Wall::new(rooms.first().map_or("UTC", |room| &room.zone), now_ms)
}

/// Parcels on their way to an account. Each stands on the days from its hand-over until today: when it comes nobody
/// has told.
pub async fn ahead(ctx: &Ctx, account: AccountId) -> Result<Vec<Event>> {
    let conn = &ctx.db.conn;
    let rooms = crate::rooms::store::rooms_of(conn, account).await?;
    let wall = wall_of(&rooms, ctx.clock.now_ms());
    let open = store::open(conn, Some(account)).await?;
    Ok(open.iter().filter_map(|open| told(open, wall)).filter_map(|way| event(&way, wall)).collect())
}

fn event(way: &OnTheWay, wall: Wall) -> Option<Event> {
    let (first, today) = (wall.calendar_day(way.handed_s), wall.calendar_day(wall.now_s()));
    let days = (today - first).num_days().max(0);
    if days > SHOWN_DAYS {
        return None;
    }
    Some(Event {
        id: Uuid::new_v5(&way.parcel.0, b"on-the-way"),
        when: When::Days(first, today.max(first).succ_opt()?),
        when_words: wall.day(way.handed_s),
        at_s: way.handed_s,
        title: "A parcel on the way".into(),
        text: way.words.clone(),
        place: None,
        href: Some("/rooms".into()),
        version: u32::try_from(days).unwrap_or(0),
        changed_s: way.handed_s.saturating_add(days * DAY),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parcel_stands_on_whole_days_of_the_rooms_calendar() {
        let at = |text: &str| chrono::DateTime::parse_from_rfc3339(text).expect("a time").timestamp();
        // Handed over at 00:30 in Oslo, on the day on which the clocks go forward there; UTC is a day behind.
        let handed_s = at("2026-03-28T23:30:00Z");
        let way = OnTheWay { parcel: ParcelId(Uuid::nil()), handed_s, words: String::new() };
        let days = |now: &str| {
            event(&way, Wall::new("Europe/Oslo", at(now) * 1000)).map(|event| match event.when {
                When::Days(first, after) => (first.to_string(), after.to_string(), event.version),
                When::Moment(_) => panic!("a parcel has no hour"),
            })
        };
        let told = |first: &str, after: &str, version| Some((first.to_owned(), after.to_owned(), version));
        assert_eq!(days("2026-03-29T12:00:00Z"), told("2026-03-29", "2026-03-30", 0));
        assert_eq!(days("2026-03-29T22:30:00Z"), told("2026-03-29", "2026-03-31", 1));
        assert_eq!(days("2026-03-20T12:00:00Z"), told("2026-03-29", "2026-03-30", 0));
        assert_eq!(days("2026-04-06T12:00:00Z"), None);
    }
}
