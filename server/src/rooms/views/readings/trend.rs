//! A water trend as a picture: readings as upright strokes, joined; dotted where nothing is known for more than seven
//! days, with the length written; the newest value in bold. One measure, one scale.

use tarn_domain::rooms::water::trend::Trend;
use tarn_domain::rooms::water::{kept_in, thousandths};
use tarn_domain::rooms::words::Measure;

use crate::platform::day::{DAY, Wall};
use crate::platform::drawing::{Anchor, Drawing, Line, Picture, Text};

/// The measures of one of the two drawings, in px.
struct Sheet {
    width: i32,
    /// Where the scale's numbers end, and the lines begin.
    left: i32,
    /// From line to line of the scale.
    step: i32,
    /// About how wide a letter is, in tenths.
    letter: i32,
    /// Strokes of days must be so far apart.
    day_apart: i64,
}

const NARROW: Sheet = Sheet { width: 358, left: 46, step: 30, letter: 66, day_apart: 4 };
const WIDE: Sheet = Sheet { width: 860, left: 54, step: 34, letter: 76, day_apart: 6 };
/// Above the highest line, for a value written over it.
const ABOVE: i32 = 24;
/// Below the lowest line: a value written under it, then the calendar and its dates.
const BELOW: i32 = 78;
/// Half the height of a stroke, in tenths.
const STROKE: i32 = 50;

/// The picture of a trend.
pub fn picture(what: Measure, trend: &Trend, of: &str, wall: Wall) -> Picture {
    let draw = |sheet| Pen { what, trend, wall, sheet }.draw();
    let label = format!("{} of {of}. {}", title(what), in_words(what, trend, wall));
    Picture { label, narrow: draw(NARROW), wide: draw(WIDE) }
}

/// "pH", "Temperature".
pub fn title(what: Measure) -> String {
    if what == Measure::Ph { "pH".into() } else { super::super::last::first_upper(what.plain()) }
}

/// A value with its unit; pH has none.
pub fn with_unit(what: Measure, milli: i64) -> String {
    let number = thousandths(milli);
    if what == Measure::Ph { number } else { format!("{number}\u{a0}{}", kept_in(what)) }
}

/// The same as the picture, in words.
pub fn in_words(what: Measure, trend: &Trend, wall: Wall) -> String {
    let (low, high) = trend.extremes();
    let (first, last) = (trend.first(), trend.last());
    let range = if low == high {
        format!("always {}", with_unit(what, low))
    } else {
        format!("{} to {}", thousandths(low), with_unit(what, high))
    };
    let (from, to) = (wall.day(first.at.seconds()), wall.lately(last.at.seconds()));
    let newest = with_unit(what, last.milli);
    let mut all = vec![format!(
        "{}\u{a0}readings from {from} to {to}, {range}; the newest is {newest}.",
        trend.points.len()
    )];
    for (pair, days) in trend.points.windows(2).zip(&trend.gaps) {
        if let Some(days) = days {
            let after = wall.day(pair[0].at.seconds());
            all.push(format!("No reading for {days}\u{a0}days after {after}."));
        }
    }
    all.join(" ")
}

struct Pen<'a> {
    what: Measure,
    trend: &'a Trend,
    wall: Wall,
    sheet: Sheet,
}

impl Pen<'_> {
    fn draw(&self) -> Drawing {
        let lines = self.trend.scale.lines();
        let foot = ABOVE + self.sheet.step * (count(&lines) - 1);
        let mut drawing = Drawing { width: self.sheet.width, height: foot + BELOW, ..Drawing::default() };
        for milli in lines {
            let y = self.y(milli);
            let (from, to) = ((self.sheet.left * 10, y), (self.right(), y));
            drawing.lines.push(Line { class: "scale-line", from, to });
            let at = ((self.sheet.left - 9) * 10, y + 48);
            let words = self.scale_number(milli);
            drawing.words.push(Text { class: "scale-number", at, anchor: Anchor::End, words });
        }
        self.readings(&mut drawing);
        self.newest(&mut drawing);
        self.calendar(&mut drawing, (foot + 48) * 10);
        drawing
    }

    /// All with as many places as the step needs: 6.5, 7.0, 7.5.
    fn scale_number(&self, milli: i64) -> String {
        let places = match self.trend.scale.step {
            step if step % 1000 == 0 => return thousandths(milli),
            step if step % 100 == 0 => 1,
            step if step % 10 == 0 => 2,
            _ => 3,
        };
        let (sign, size) = (if milli < 0 { "−" } else { "" }, milli.unsigned_abs());
        format!("{sign}{}.{}", size / 1000, &format!("{:03}", size % 1000)[..places])
    }

    fn right(&self) -> i32 {
        (self.sheet.width - 2) * 10
    }

    fn span(&self) -> i64 {
        self.trend.last().at.seconds() - self.trend.first().at.seconds()
    }

    /// Seconds as a place from left to right, in tenths of a px. One reading alone stands at the right.
    fn x(&self, seconds: i64) -> i32 {
        let (left, right) = (i64::from(self.sheet.left * 10 + 10), i64::from(self.right() - 10));
        let place = match self.span() {
            0 => right,
            span => left + (seconds - self.trend.first().at.seconds()) * (right - left) / span,
        };
        i32::try_from(place).unwrap_or(self.right())
    }

    fn y(&self, milli: i64) -> i32 {
        let scale = &self.trend.scale;
        let down = (scale.high - milli) * i64::from(self.sheet.step * 10) / scale.step;
        ABOVE * 10 + i32::try_from(down).unwrap_or_default()
    }

    fn readings(&self, drawing: &mut Drawing) {
        let place = |p: &tarn_domain::rooms::water::trend::Point| (self.x(p.at.seconds()), self.y(p.milli));
        // where the words of the gap before end, so that none run into each other
        let mut written_to = self.sheet.left * 10;
        for (pair, gap) in self.trend.points.windows(2).zip(&self.trend.gaps) {
            let (from, to) = (place(&pair[0]), place(&pair[1]));
            let class = if gap.is_some() { "unknown" } else { "joined" };
            drawing.lines.push(Line { class, from, to });
            let Some(days) = gap else { continue };
            // under the middle of the dots, on the side where the line is further up
            let (middle, y) = (i32::midpoint(from.0, to.0), i32::midpoint(from.1, to.1) + 190);
            let rises = to.1 < from.1;
            for words in [format!("no reading for {days}\u{a0}days"), format!("{days}\u{a0}days")] {
                let width = count(words.chars()) * self.sheet.letter;
                let begins = if rises { middle } else { middle - width };
                let begins = begins.min(self.right() - width).max(self.sheet.left * 10 + 40);
                if begins > written_to {
                    written_to = begins + width + 80;
                    drawing.words.push(Text { class: "gap", at: (begins, y), anchor: Anchor::Start, words });
                    break;
                }
            }
        }
        for (x, y) in self.trend.points.iter().map(place) {
            drawing.lines.push(Line { class: "reading", from: (x, y - STROKE), to: (x, y + STROKE) });
        }
    }

    /// Under the last stroke, or over it where the line comes up from below.
    fn newest(&self, drawing: &mut Drawing) {
        let last = self.trend.last();
        let before = self.trend.points.iter().rev().nth(1);
        let rises = before.is_some_and(|before| before.milli < last.milli);
        let y = self.y(last.milli) + if rises { -110 } else { 210 };
        let day = self.wall.lately(last.at.seconds());
        let words = format!("{}, {day}", with_unit(self.what, last.milli));
        let at = (self.right(), y);
        drawing.words.push(Text { class: "newest", at, anchor: Anchor::End, words });
    }

    /// A stroke a day, every seventh longer, counted back from the last; over a longer time one a week or a month.
    fn calendar(&self, drawing: &mut Drawing, foot: i32) {
        let width = i64::from(self.sheet.width - self.sheet.left);
        let days = self.span() / DAY;
        let apart = |step: i64| width * step / days.max(1) >= self.sheet.day_apart;
        let (step, longer) =
            [(1, 7), (7, 4), (28, 13)].into_iter().find(|(step, _)| apart(*step)).unwrap_or((364, 10));
        let end = self.trend.last().at.seconds();
        for n in 0..=(days / step) {
            let x = self.x(end - n * step * DAY);
            let top = foot - if n % longer == 0 { 130 } else { 50 };
            drawing.lines.push(Line { class: "day", from: (x, top), to: (x, foot) });
        }
        let date = |at: (i32, i32), anchor, seconds: i64| Text {
            class: "date",
            at,
            anchor,
            words: self.wall.day(seconds),
        };
        drawing.words.push(date((self.right(), foot + 220), Anchor::End, end));
        if days > 0 {
            let left = self.sheet.left * 10;
            drawing.words.push(date((left, foot + 220), Anchor::Start, self.trend.first().at.seconds()));
        }
    }
}

fn count(all: impl IntoIterator) -> i32 {
    i32::try_from(all.into_iter().count()).unwrap_or(1)
}

#[cfg(test)]
mod tests {
    use tarn_domain::rooms::water::trend::Point;
    use tarn_domain::streams::At;

    use super::*;

    /// Thu 7 May 2026, 10:00 UTC.
    const NOON: i64 = 1_778_148_000;

    fn drawn(what: Measure, readings: &[(i64, i64)]) -> Picture {
        let points = readings
            .iter()
            .map(|(ago, milli)| Point { at: At::from_seconds(NOON - ago * DAY), milli: *milli });
        let trend = Trend::of(what, points).expect("readings");
        picture(what, &trend, "loop B", Wall::new("UTC", NOON * 1000))
    }

    /// What the sample of the look shows: a gap of ten days, nine readings, 6.6 today.
    fn sample() -> Picture {
        let readings = [
            (30, 7_600),
            (27, 7_500),
            (24, 7_500),
            (21, 7_400),
            (18, 7_300),
            (8, 6_900),
            (5, 6_800),
            (2, 6_700),
            (0, 6_600),
        ];
        drawn(Measure::Ph, &readings)
    }

    fn all<'a>(drawing: &'a Drawing, class: &str) -> Vec<&'a Line> {
        drawing.lines.iter().filter(|line| line.class == class).collect()
    }

    #[test]
    fn a_trend_is_drawn_as_the_look_wants_it() {
        let picture = sample();
        for (drawing, width) in [(&picture.narrow, 358), (&picture.wide, 860)] {
            assert_eq!(drawing.width, width);
            assert_eq!((all(drawing, "reading").len(), all(drawing, "joined").len()), (9, 7));
            assert_eq!(all(drawing, "unknown").len(), 1);
            // upright
            assert!(all(drawing, "reading").iter().all(|line| line.from.0 == line.to.0));
            let says =
                |class| drawing.words.iter().filter(move |t| t.class == class).map(|t| t.words.as_str());
            assert_eq!(says("scale-number").collect::<Vec<_>>(), ["6.5", "7.0", "7.5", "8.0"]);
            assert_eq!(says("gap").collect::<Vec<_>>(), ["no reading for 10\u{a0}days"]);
            assert_eq!(says("newest").collect::<Vec<_>>(), ["6.6, today"]);
            assert_eq!(says("date").collect::<Vec<_>>(), ["Thu 7 May", "Tue 7 Apr"]);
            assert_eq!(all(drawing, "day").len(), 31);
            let inside =
                |p: (i32, i32)| (0..=width * 10).contains(&p.0) && (0..=drawing.height * 10).contains(&p.1);
            assert!(drawing.lines.iter().all(|line| inside(line.from) && inside(line.to)));
            assert!(drawing.words.iter().all(|text| inside(text.at)));
        }
        assert!(
            picture.label.starts_with("pH of loop B. 9\u{a0}readings from Tue 7 Apr to today, 6.6 to 7.6"),
            "{}",
            picture.label
        );
        assert!(
            picture.label.ends_with("No reading for 10\u{a0}days after Sun 19 Apr."),
            "{}",
            picture.label
        );
    }

    #[test]
    fn long_times_have_strokes_that_can_be_told_apart() {
        let picture =
            drawn(Measure::Temperature, &[(3_650, 24_000), (1_000, 26_000), (3, 22_500), (0, 25_000)]);
        let days = all(&picture.narrow, "day");
        assert!((10..=80).contains(&days.len()), "{}", days.len());
        assert!(days.windows(2).all(|pair| pair[0].from.0 - pair[1].from.0 >= 40));
        let words: Vec<&str> = picture.wide.words.iter().map(|t| t.words.as_str()).collect();
        assert!(words.contains(&"25\u{a0}°C, today"), "{words:?}");
    }

    #[test]
    fn words_of_gaps_do_not_run_into_each_other() {
        let many: Vec<(i64, i64)> = (0..40).map(|n| (n * 10, 7_000 + n * 10)).collect();
        let picture = drawn(Measure::Ph, &many);
        let mut gaps: Vec<i32> =
            picture.narrow.words.iter().filter(|t| t.class == "gap").map(|t| t.at.0).collect();
        gaps.sort_unstable();
        assert!(gaps.len() < 12 && gaps.windows(2).all(|pair| pair[1] - pair[0] > 300), "{gaps:?}");
        assert_eq!(all(&picture.narrow, "unknown").len(), 39);
    }
}
