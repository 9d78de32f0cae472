//! The member list as a sheet (CSV with a line of names at the top): taken over the list, or written from it.

use tarn_domain::clubs::people::{Change, Fault, Field, Line, Typed, merge};
use tarn_domain::streams::cells;
use uuid::Uuid;

use super::super::store;
use super::people::{insert, line_of, may_be_of, save};
use crate::platform::errors::INVALID;
use crate::platform::{Actor, Ctx, Problem, Result, write};

/// The most lines of a sheet.
const MOST_LINES: usize = 5_000;
/// The most faults that are told at once.
const MOST_FAULTS: usize = 50;

/// What a sheet did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Imported {
    /// People who were not on the list.
    pub added: usize,
    /// Lines that say something else now.
    pub changed: usize,
    /// Lines that say what was there.
    pub same: usize,
}

/// Lays a sheet over the list, all of it or nothing.
pub async fn import(ctx: &Ctx, actor: &Actor, club: Uuid, text: &str) -> Result<Imported> {
    let (numbers, lines) = read(text)?;
    write(ctx, actor, async |w| {
        store::lock_club(w.tx(), club).await?;
        let rows = store::list(w.tx(), club).await?;
        let list: Vec<(Uuid, Line)> =
            rows.iter().map(|row| Ok((row.person, line_of(row)?))).collect::<Result<_>>()?;
        let merged = merge(&list, &lines).map_err(|faults| refused(&faults, &numbers))?;
        let mut done = Imported { added: 0, changed: 0, same: merged.same };
        for change in merged.changes {
            match change {
                Change::Added(line) => {
                    insert(w, club, w.ctx().ids.new_id(w.now), &line).await?;
                    done.added += 1;
                }
                Change::Changed(person, line) => {
                    let Some(row) = rows.iter().find(|row| row.person == person) else { continue };
                    may_be_of(w, club, row.account, &line).await?;
                    save(w, row, &line).await?;
                    done.changed += 1;
                }
            }
        }
        let Imported { added, changed, .. } = done;
        w.audit_of(
            club,
            "clubs",
            format!("a sheet over the list of club {club}: {added} added, {changed} changed"),
        );
        Ok(done)
    })
    .await
}

/// The lines of a sheet, and the number of each in the file.
fn read(text: &str) -> Result<(Vec<u64>, Vec<Typed>)> {
    // lines are counted as an editor does, whatever they end with
    let text = text.trim_start_matches('\u{feff}').replace("\r\n", "\n");
    let delimiter = if text.lines().next().is_some_and(|head| head.contains(';')) { b';' } else { b',' };
    let mut sheet =
        csv::ReaderBuilder::new().delimiter(delimiter).flexible(true).from_reader(text.as_bytes());
    let head = sheet.headers().map_err(|err| broken(&err))?.clone();
    let columns: Vec<Option<Field>> = head.iter().map(Field::parse).collect();
    let unknown: Vec<&str> =
        head.iter().zip(&columns).filter(|(_, field)| field.is_none()).map(|(name, _)| name).collect();
    if !unknown.is_empty() || !columns.contains(&Some(Field::Name)) {
        return Err(wrong_head(&unknown));
    }
    let (mut numbers, mut lines) = (Vec::new(), Vec::new());
    for record in sheet.records() {
        let record = record.map_err(|err| broken(&err))?;
        if record.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        if lines.len() == MOST_LINES {
            return Err(Problem::new(&INVALID).detail(format!("A sheet has at most {MOST_LINES} lines.")));
        }
        numbers.push(record.position().map_or(0, csv::Position::line));
        let cell = |(field, cell): (&Option<Field>, &str)| Some(((*field)?, cells::plain(cell).to_owned()));
        lines.push(Typed(columns.iter().zip(record.iter()).filter_map(cell).collect()));
    }
    if lines.is_empty() {
        return Err(Problem::new(&INVALID).detail("The sheet has no line but the one of names."));
    }
    Ok((numbers, lines))
}

fn broken(err: &csv::Error) -> Problem {
    let line = err.position().map_or(1, csv::Position::line);
    let why = "This line can't be read: a quotation mark may be open.";
    Problem::new(&INVALID).detail(why).at(&format!("/lines/{line}"), why)
}

fn wrong_head(unknown: &[&str]) -> Problem {
    let names = Field::ALL.map(Field::as_str).join(", ");
    let why = match unknown.first() {
        Some(name) => format!("No column is called “{name}”. There are {names}; name is needed."),
        None => format!("The first line names the columns: {names}; name is needed."),
    };
    Problem::new(&INVALID).detail(why.clone()).at("/lines/1", why)
}

fn refused(faults: &[(usize, Fault)], numbers: &[u64]) -> Problem {
    let line = |place: &usize| numbers.get(*place).copied().unwrap_or(0);
    let lines = faults.iter().map(|(place, _)| line(place)).collect::<std::collections::BTreeSet<_>>().len();
    let count = if lines == 1 { "One line is wrong".to_owned() } else { format!("{lines} lines are wrong") };
    let problem = Problem::new(&INVALID).detail(format!("{count}; nothing was taken."));
    faults.iter().take(MOST_FAULTS).fold(problem, |problem, (place, fault)| {
        let (line, field) = (line(place), fault.field.as_str());
        problem.at(&format!("/lines/{line}/{field}"), format!("Line {line}, {field}: {}", fault.why))
    })
}

/// The list as a sheet that [`import`] takes again.
pub async fn export(ctx: &Ctx, club: Uuid) -> Result<String> {
    let failed = |err: &dyn std::fmt::Display| Problem::failed("writing a sheet", err);
    let mut sheet = csv::Writer::from_writer(Vec::new());
    sheet.write_record(Field::ALL.map(Field::as_str)).map_err(|err| failed(&err))?;
    for row in store::list(&ctx.db.conn, club).await? {
        let line = line_of(&row)?;
        let cells = Field::ALL.map(|field| cells::guarded(&line.text(field)));
        sheet.write_record(cells).map_err(|err| failed(&err))?;
    }
    let bytes = sheet.into_inner().map_err(|err| failed(&err))?;
    String::from_utf8(bytes).map_err(|err| failed(&err))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_is_read_as_people_write_it() {
        let text = "\u{feff}Number;Name;E-Mail;Paid until\r\n7;\"Brook; Ida\";ida@example.org;2026-12-31\r\n;;;\r\n8;'=Nell;;\r\n";
        let (numbers, lines) = read(text).expect("read");
        assert_eq!(numbers, [2, 4]);
        assert_eq!(lines[0].get(Field::Name), Some("Brook; Ida"));
        assert_eq!(lines[1].get(Field::Name), Some("=Nell"), "the guard against formulas is taken off");
        assert_eq!(lines[1].get(Field::Household), None, "no such column: it stays as it is");
    }

    #[test]
    fn a_column_nobody_knows_is_named() {
        let told = |text: &str| read(text).expect_err("refused").sentence().to_owned();
        assert!(told("Name,Telephone\nIda,1\n").contains("“Telephone”"));
        assert!(told("Number\n7\n").contains("name is needed"));
        assert!(told("Name\n").contains("no line"));
    }
}
