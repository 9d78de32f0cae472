//! The last row of the picture: looks as strokes, a time without one as a thick line with its length.

use super::Pen;
use crate::platform::drawing::{Anchor, Text};
use crate::platform::fit::{Type, width};

/// How many gaps between looks are named in the picture.
pub(super) const NAMED_GAPS: usize = 3;

impl Pen<'_> {
    pub(super) fn looks(&mut self) {
        let from = self.span.0;
        let staff = self.y + 380;
        let (left, today) = (self.x(from), self.x(self.course.now));
        self.level("staff", left, today, staff);
        let mut strokes: Vec<i32> =
            self.course.looks.iter().filter(|at| **at >= from).map(|at| self.x(*at)).collect();
        strokes.sort_unstable();
        strokes.dedup_by_key(|x| *x / 10);
        for x in &strokes {
            self.stroke("look", *x, staff - 90, staff);
        }
        let mut gaps: Vec<&(i64, i64, String)> =
            self.course.gaps.iter().filter(|(_, until, _)| *until > from).collect();
        for (begins, ends, _) in &gaps {
            self.level("gap", self.x((*begins).max(from)), self.x(*ends), staff);
        }
        gaps.sort_by_key(|(begins, ends, _)| begins - ends);
        gaps.truncate(NAMED_GAPS);
        gaps.sort_by_key(|(begins, ..)| *begins);
        let what = if strokes.is_empty() { "No look recorded" } else { "Looks, one stroke each" };
        let mut all = vec![(left, what, "plain", self.sheet.plain)];
        let of_gaps = gaps.iter().map(|(begins, _, words)| {
            (self.x((*begins).max(from)), words.as_str(), "of-gap", Type { bold: true, ..self.sheet.plain })
        });
        all.extend(of_gaps);
        self.y = staff + 10;
        self.in_lanes(&all);
    }

    /// Words under one line, each in the first lane that has room.
    fn in_lanes(&mut self, all: &[(i32, &str, &'static str, Type)]) {
        let (edge, step) = (self.sheet.width * 10, (self.sheet.plain.size + 4) * 10);
        let mut lanes: Vec<i32> = Vec::new();
        for &(x, words, class, of) in all {
            let wide = width(words, of);
            let x = x.min(edge - wide).max(0);
            let lane = lanes.iter().position(|end| *end + 60 <= x).unwrap_or(lanes.len());
            lanes.resize(lanes.len().max(lane + 1), 0);
            lanes[lane] = x + wide;
            let y = self.y + step * (i32::try_from(lane).unwrap_or(0) + 1);
            let words = words.to_owned();
            self.drawing.words.push(Text { class, at: (x, y), anchor: Anchor::Start, words });
        }
        self.y += step * i32::try_from(lanes.len()).unwrap_or(0);
    }
}
