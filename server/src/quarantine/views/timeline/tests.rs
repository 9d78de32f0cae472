//! Whether the picture can be read: on a phone, of a long history, while a treatment runs.

use super::looks::NAMED_GAPS;
use super::*;
use crate::platform::fit::{Type, width};

/// Mon 6 Apr 2026, 00:00 UTC.
const MONDAY: i64 = 1_775_433_600;

fn row(start: i64, end: Option<i64>, n: usize) -> Row {
    Row {
        start: MONDAY + start * DAY,
        end: end.map(|end| MONDAY + end * DAY),
        again: end.is_some(),
        due: Some(MONDAY + (start + 30) * DAY),
        title: format!("Run {n}; striped: treated with salt"),
        due_words: end.is_none().then(|| "Mon 25 May".to_owned()),
        strong: "8 days. Began again Wed 22 Sept:".into(),
        plain: "more fish came into this water, and home fish began to share it".into(),
    }
}

fn course(rows: Vec<Row>, now: i64) -> Course {
    let now = MONDAY + now * DAY;
    let from = rows[rows.len().saturating_sub(ROWS)].start - 10 * DAY;
    let midnight = from - (from - MONDAY).rem_euclid(DAY);
    let calendar = (0..400).map(|day| midnight + day * DAY);
    let named = |at: i64| ((at - MONDAY).rem_euclid(7 * DAY) == 0).then(|| "22 Sept".to_owned());
    Course {
        label: "the days".into(),
        folded: (rows.len() > ROWS).then(|| "14 earlier runs, from Mon 6 Apr, are in the list below.".into()),
        runs: rows,
        now,
        calendar: calendar.map(|at| (at, named(at))).collect(),
        ..Course::default()
    }
}

fn of(sheet: &Sheet, text: &Text) -> Type {
    match text.class {
        "date" => sheet.date,
        "plain" => sheet.plain,
        "of-gap" => Type { bold: true, ..sheet.plain },
        _ => sheet.strong,
    }
}

/// Left, top, right and foot of words.
fn area(sheet: &Sheet, text: &Text) -> [i32; 4] {
    let of = of(sheet, text);
    let wide = width(&text.words, of);
    let left = match text.anchor {
        Anchor::Start => text.at.0,
        Anchor::Middle => text.at.0 - wide / 2,
        Anchor::End => text.at.0 - wide,
    };
    [left, text.at.1 - of.size * 8, left + wide, text.at.1 + of.size * 2]
}

fn meet(a: [i32; 4], b: [i32; 4]) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

#[track_caller]
fn assert_readable(course: &Course) {
    let picture = course.picture();
    for (sheet, drawing) in [(&NARROW, &picture.narrow), (&WIDE, &picture.wide)] {
        for (i, text) in drawing.words.iter().enumerate() {
            let here = area(sheet, text);
            let inside = here[0] >= 0 && here[2] <= sheet.width * 10 && here[3] <= drawing.height * 10;
            assert!(inside, "{:?} leaves the {} px", text.words, sheet.width);
            for other in &drawing.words[i + 1..] {
                let there = area(sheet, other);
                assert!(
                    !meet(here, there),
                    "{:?} lies over {:?} on {} px",
                    text.words,
                    other.words,
                    sheet.width
                );
            }
            let strong = ["today", "today-too", "again", "gap", "to-come", "lived", "counts"];
            for line in drawing.lines.iter().filter(|line| strong.contains(&line.class)) {
                let [x, y] = [(line.from.0, line.to.0), (line.from.1, line.to.1)];
                let through = [x.0.min(x.1), y.0.min(y.1), x.0.max(x.1) + 1, y.0.max(y.1) + 1];
                assert!(!meet(here, through), "a line ({}) goes through {:?}", line.class, text.words);
            }
        }
    }
}

#[test]
fn no_words_lie_over_others() {
    let rows = vec![row(-2, Some(6), 1), row(6, Some(14), 2), row(14, Some(19), 3), row(19, None, 4)];
    let mut course = course(rows, 31);
    course.treated = vec![(MONDAY + 10 * DAY, MONDAY + 14 * DAY)];
    course.looks = (-2..22).step_by(3).map(|day| MONDAY + day * DAY).collect();
    course.gaps = (0..5)
        .map(|i| {
            (MONDAY + (i * 5 + 1) * DAY, MONDAY + (i * 5 + 5) * DAY, format!("no look for {} days", 8 + i))
        })
        .collect();
    assert_readable(&course);
    let picture = course.picture();
    assert_eq!(picture.narrow.words.iter().filter(|text| text.class == "of-gap").count(), NAMED_GAPS);
    assert_eq!(picture.narrow.lines.iter().filter(|line| line.class == "gap").count(), 5);
    assert!(picture.wide.lines.iter().any(|line| line.class == "stripe"));
}

#[test]
fn each_row_begins_where_the_one_before_was_cut_off() {
    let rows = vec![row(-2, Some(6), 1), row(6, Some(14), 2), row(14, None, 3)];
    let drawing = course(rows, 31).picture().narrow;
    let xs = |class: &str| -> Vec<(i32, i32)> {
        let lines = drawing.lines.iter().filter(|line| line.class == class);
        lines.map(|line| (line.from.0, line.to.0)).collect()
    };
    let (lived, again, counts) = (xs("lived"), xs("again"), xs("counts"));
    assert_eq!(lived.len(), 2);
    assert_eq!([lived[0].1, lived[1].1], [again[0].0, again[1].0]);
    assert_eq!([lived[1].0, counts[0].0], [again[0].0, again[1].0]);
}

#[test]
fn of_a_long_history_the_last_runs_are_drawn_and_the_rest_is_said() {
    let rows: Vec<Row> = (0..20)
        .map(|i| row(i * 9, (i < 19).then_some((i + 1) * 9), usize::try_from(i + 1).unwrap_or(0)))
        .collect();
    let course = course(rows, 19 * 9 + 4);
    assert_readable(&course);
    let drawing = course.picture().narrow;
    let titles: Vec<&str> =
        drawing.words.iter().map(|t| t.words.as_str()).filter(|w| w.starts_with("Run ")).collect();
    assert_eq!(titles.len(), ROWS, "{titles:?}");
    assert!(titles[0].starts_with("Run 15"), "{titles:?}");
    assert!(drawing.words.iter().any(|text| text.words.starts_with("14 earlier runs")));
    assert!(drawing.height < 900, "it fills two screens: {}", drawing.height);
}

#[test]
fn while_a_treatment_runs_no_day_is_drawn() {
    let mut last = row(0, None, 1);
    (last.due, last.due_words) = (None, None);
    let mut course = course(vec![last], 12);
    course.treated = vec![(MONDAY + 5 * DAY, MONDAY + 12 * DAY)];
    assert_readable(&course);
    let drawing = course.picture().wide;
    assert!(!drawing.lines.iter().any(|line| line.class == "to-come"));
    assert!(drawing.lines.iter().any(|line| line.class == "counts"));
    assert!(drawing.lines.iter().any(|line| line.class == "stripe"));
}

#[test]
fn days_that_run_beside_one_another_are_not_drawn_as_begun_again() {
    let done = Row { again: false, due: None, ..row(0, Some(30), 1) };
    let runs = Row { due_words: None, ..row(8, None, 2) };
    let course = course(vec![done, runs, row(20, None, 3)], 34);
    assert_readable(&course);
    let drawing = course.picture().narrow;
    let of = |class: &str| drawing.lines.iter().filter(|line| line.class == class).collect::<Vec<_>>();
    assert!(of("again").is_empty());
    let ends: Vec<i32> = of("lived").iter().chain(&of("counts")).map(|line| line.to.0).collect();
    assert!(ends[0] < ends[1] && ends[1] == ends[2], "done on its day, or up to now: {ends:?}");
}

#[test]
fn a_day_that_has_just_begun_is_drawn() {
    assert_readable(&course(vec![row(0, None, 1)], 0));
    let years = vec![row(0, Some(900), 1), row(900, None, 2)];
    let mut course = course(years, 901);
    course.treated = vec![(MONDAY, MONDAY + 899 * DAY)];
    assert_readable(&course);
}
