//! The gauge: days as strokes on a staff, every seventh longer. Only positions; no dates, no states.

/// A staff of days.
pub struct Gauge {
    /// How many days it needs.
    pub days_total: u32,
    /// How many whole days are done.
    pub days_done: u32,
    /// The same in words, for those who don't see it.
    pub label: String,
}

/// One stroke, ready for the drawing.
pub struct Stroke {
    /// Where, as a share of the width, so that one drawing fits every screen.
    pub x: String,
    /// Upper end in px; the lower is the foot line.
    pub top: u8,
    /// `done`, `today` or empty.
    pub class: &'static str,
}

/// Above this many days only weeks have a stroke; more would run together on a phone.
const EVERY_DAY_UP_TO: u32 = 120;

impl Gauge {
    /// Strokes from the first day to the last.
    pub fn strokes(&self) -> Vec<Stroke> {
        let total = self.days_total.max(1);
        let today = self.days_done.min(total);
        let drawn =
            |day: &u32| total <= EVERY_DAY_UP_TO || day.is_multiple_of(7) || *day == today || *day == total;
        (0..=total).filter(drawn).map(|day| Self::stroke(day, today, total)).collect()
    }

    fn stroke(day: u32, today: u32, total: u32) -> Stroke {
        let (top, class) = match day {
            _ if day == today => (0, "today"),
            _ if day.is_multiple_of(7) => (10, if day < today { "done" } else { "" }),
            _ => (20, if day < today { "done" } else { "" }),
        };
        // thousandths of the width, without floats, so that a page is the same on every machine
        let x = u64::from(day) * 100_000 / u64::from(total);
        Stroke { x: format!("{}.{:03}%", x / 1000, x % 1000), top, class }
    }
}
