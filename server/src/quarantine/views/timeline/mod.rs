//! The picture of a unit's days: a calendar, one row for each time they began, and the looks. Only where things stand;
//! the words come ready, and are on the page beside it too. Decides nothing.

mod looks;
#[cfg(test)]
mod tests;

use crate::platform::day::DAY;
use crate::platform::drawing::{Anchor, Drawing, Line, Picture, Text};
use crate::platform::fit::{Type, lines, width};

/// How many runs have a row; the older ones are told in the list.
pub const ROWS: usize = 6;

/// The days of a unit. Times are in seconds since 1970.
#[derive(Debug, Clone, Default)]
pub struct Course {
    /// What one who does not see it is told.
    pub label: String,
    /// Every time the days began, the first first; only the last [`ROWS`] are drawn.
    pub runs: Vec<Row>,
    /// When the water was treated.
    pub treated: Vec<(i64, i64)>,
    /// When somebody looked.
    pub looks: Vec<i64>,
    /// Times without a look that are in the way, with their length in words.
    pub gaps: Vec<(i64, i64, String)>,
    /// The moment of the page.
    pub now: i64,
    /// Days of the calendar: when each begins, and its name if it begins a week.
    pub calendar: Vec<(i64, Option<String>)>,
    /// What is said of runs that are not drawn.
    pub folded: Option<String>,
}

/// One time that the days ran.
#[derive(Debug, Clone, Default)]
pub struct Row {
    /// When they began.
    pub start: i64,
    /// When they began again, or were done though others are not; none: they run.
    pub end: Option<i64>,
    /// Whether they began again at their end.
    pub again: bool,
    /// When they are or would have been done; none while no day can be told.
    pub due: Option<i64>,
    /// What stands above.
    pub title: String,
    /// The day it is due, where that counts.
    pub due_words: Option<String>,
    /// What stands beneath, in bold.
    pub strong: String,
    /// And under that.
    pub plain: String,
}

/// A width, and what fits it.
struct Sheet {
    width: i32,
    left: i32,
    right: i32,
    strong: Type,
    plain: Type,
    date: Type,
}

const NARROW: Sheet = Sheet {
    width: 358,
    left: 14,
    right: 10,
    strong: Type { size: 13, bold: true },
    plain: Type { size: 12, bold: false },
    date: Type { size: 13, bold: false },
};
const WIDE: Sheet = Sheet {
    width: 860,
    left: 36,
    right: 30,
    strong: Type { size: 15, bold: true },
    plain: Type { size: 14, bold: false },
    date: Type { size: 14, bold: false },
};

impl Course {
    /// The span of time that the picture shows, without its edges.
    pub fn span(&self) -> (i64, i64) {
        let shown = self.shown();
        let from = shown.first().map_or(self.now, |row| row.start);
        let ends = shown.iter().flat_map(|row| [row.due, row.end]).flatten();
        (from, ends.chain([self.now]).max().unwrap_or(self.now).max(from + DAY))
    }

    fn shown(&self) -> &[Row] {
        &self.runs[self.runs.len().saturating_sub(ROWS)..]
    }

    /// The picture.
    pub fn picture(&self) -> Picture {
        let drawn = |sheet| Pen::new(self, sheet).drawing();
        Picture { label: self.label.clone(), narrow: drawn(&NARROW), wide: drawn(&WIDE) }
    }
}

/// Draws from the top down; places are in tenths of a px.
struct Pen<'a> {
    course: &'a Course,
    sheet: &'a Sheet,
    span: (i64, i64),
    drawing: Drawing,
    y: i32,
}

impl<'a> Pen<'a> {
    fn new(course: &'a Course, sheet: &'a Sheet) -> Self {
        let drawing = Drawing { width: sheet.width, ..Drawing::default() };
        Self { course, sheet, span: course.span(), drawing, y: 0 }
    }

    fn drawing(mut self) -> Drawing {
        self.calendar();
        if let Some(folded) = &self.course.folded {
            self.y += 60;
            self.say(folded, "plain", 0, self.sheet.plain);
        }
        let shown = self.course.shown();
        for (i, row) in shown.iter().enumerate() {
            self.row(row, i + 1 == shown.len());
        }
        self.looks();
        self.drawing.height = self.y / 10 + 6;
        self.drawing
    }

    /// Where an instant stands.
    fn x(&self, at: i64) -> i32 {
        let wide = i64::from((self.sheet.width - self.sheet.left - self.sheet.right) * 10);
        let (from, until) = self.span;
        let x = i64::from(self.sheet.left * 10) + (at - from) * wide / (until - from).max(1);
        i32::try_from(x).unwrap_or(i32::MAX)
    }

    fn line(&mut self, class: &'static str, from: (i32, i32), to: (i32, i32)) {
        self.drawing.lines.push(Line { class, from, to });
    }

    fn level(&mut self, class: &'static str, from: i32, to: i32, y: i32) {
        self.line(class, (from, y), (to.max(from + 10), y));
    }

    fn stroke(&mut self, class: &'static str, x: i32, top: i32, foot: i32) {
        self.line(class, (x, top), (x, foot));
    }

    /// Words that begin at a place, or as near to it as the sheet allows; in as many lines as they need.
    fn say(&mut self, words: &str, class: &'static str, x: i32, of: Type) {
        let all = self.sheet.width * 10;
        for line in lines(words, of, all) {
            self.y += (of.size + 4) * 10;
            let x = x.min(all - width(&line, of)).max(0);
            self.drawing.words.push(Text { class, at: (x, self.y), anchor: Anchor::Start, words: line });
        }
    }

    /// Days as strokes, weeks longer, as many weeks named as there is room for.
    fn calendar(&mut self) {
        let (staff, end) = (260, self.sheet.width * 10);
        let days: Vec<(i32, Option<&str>)> = self
            .course
            .calendar
            .iter()
            .map(|(at, week)| (self.x(*at), week.as_deref()))
            .filter(|(x, _)| (0..=end).contains(x))
            .collect();
        self.level("staff", 0, end, staff);
        let day = i64::from(end) * DAY / (self.span.1 - self.span.0);
        let mut free = 0;
        for (x, week) in days {
            let Some(week) = week else {
                if day > 22 {
                    self.stroke("day", x, staff - 50, staff);
                }
                continue;
            };
            let half = width(week, self.sheet.date) / 2;
            let named = x - half >= free && x + half <= end;
            if named {
                free = x + half + 100;
                let at = (x, 130);
                self.drawing.words.push(Text {
                    class: "date",
                    at,
                    anchor: Anchor::Middle,
                    words: week.into(),
                });
            }
            if named || day * 7 > 22 {
                self.stroke("day", x, staff - 90, staff + if named { 30 } else { 0 });
            }
        }
        let today = self.x(self.course.now);
        self.stroke("today", today, staff - 80, staff + 100);
        self.y = staff + 100;
    }

    fn row(&mut self, row: &Row, is_last: bool) {
        let (start, end) = (self.x(row.start), self.x(row.end.unwrap_or(self.course.now)));
        self.y += 150;
        self.title(row, start);
        let bar = self.y + 130;
        if let Some(due) = row.due.map(|due| self.x(due)).filter(|due| *due > end) {
            self.level("to-come", end, due, bar);
            self.stroke("day", due, bar - 45, bar + 45);
            if row.due >= Some(self.course.now) {
                let today = self.x(self.course.now);
                self.stroke("today-too", today, bar - 60, bar + 60);
            }
        }
        self.days(row, if is_last { "counts" } else { "lived" }, bar);
        if row.again {
            self.stroke("again", end, bar - 60, bar + 80);
        }
        self.y = bar + 50;
        let (class, x) = match (is_last, row.again) {
            (true, _) => ("of-today", start),
            (false, true) => ("of-again", end),
            (false, false) => ("strong", start),
        };
        self.say(&row.strong, class, x, self.sheet.strong);
        self.say(&row.plain, "plain", x, self.sheet.plain);
    }

    /// The row's name, and the day it is due at the end of its line, if both have room.
    fn title(&mut self, row: &Row, start: i32) {
        let (of, all) = (self.sheet.strong, self.sheet.width * 10);
        let Some(due) = &row.due_words else { return self.say(&row.title, "strong", start, of) };
        let right = row.due.map_or(all, |due| self.x(due) + 20).min(all);
        let left = right - width(due, of);
        if start + width(&row.title, of) + 120 > left {
            return self.say(&format!("{}, to {due}", row.title), "strong", start, of);
        }
        self.say(&row.title, "strong", start, of);
        let at = (left, self.y);
        self.drawing.words.push(Text { class: "strong", at, anchor: Anchor::Start, words: due.clone() });
    }

    /// The days that passed: filled, and striped where the water was treated.
    fn days(&mut self, row: &Row, class: &'static str, bar: i32) {
        let end = row.end.unwrap_or(self.course.now);
        let mut treated: Vec<(i64, i64)> = self.course.treated.clone();
        treated.sort_unstable();
        let mut from = row.start;
        for (begins, ends) in treated {
            let (begins, ends) = (begins.max(from), ends.min(end));
            if begins >= ends {
                continue;
            }
            if begins > from {
                self.level(class, self.x(from), self.x(begins), bar);
            }
            self.stripes(self.x(begins), self.x(ends), bar);
            from = ends;
        }
        if end > from || from == row.start {
            self.level(class, self.x(from), self.x(end), bar);
        }
    }

    fn stripes(&mut self, from: i32, to: i32, bar: i32) {
        let to = to.max(from + 30);
        self.level("frame", from, to, bar - 40);
        self.level("frame", from, to, bar + 40);
        let mut x = from;
        while x <= to {
            self.stroke("stripe", x, bar - 40, bar + 40);
            x += 30;
        }
    }
}
