//! A keeper's own list of stock as CSV: reading it, and saying what is wrong by line and column. Pure.

use std::fmt;

use tarn_domain::rooms::Typed;

use tarn_domain::streams::cells::plain;

/// One stock of the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetRow {
    /// The tank's name.
    pub tank: String,
    /// What the stock is called.
    pub name: Option<String>,
    /// The species.
    pub species: Option<String>,
    /// The form.
    pub form: Option<String>,
    /// How many.
    pub numbers: Typed,
    /// Remarks.
    pub notes: Option<String>,
}

/// What is wrong, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrongCell {
    line: u64,
    column: Option<(usize, String)>,
    why: String,
}

impl fmt::Display for WrongCell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.column {
            Some((n, name)) => write!(f, "line {}, column {n} ({name}): {}", self.line, self.why),
            None => write!(f, "line {}: {}", self.line, self.why),
        }
    }
}

/// A list that was read.
#[derive(Debug)]
pub struct Sheet {
    /// Its stocks.
    pub rows: Vec<SheetRow>,
    /// Columns that mean nothing here.
    pub ignored: Vec<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Meaning {
    Tank,
    Name,
    Species,
    Form,
    Numbers,
    Males,
    Females,
    Unsexed,
    Notes,
}

/// Header names as keepers have them (common practice, no source), letters only.
const HEADERS: [(Meaning, &[&str]); 9] = [
    (
        Meaning::Tank,
        &["tank", "tankno", "tanknumber", "tankname", "intank", "where", "location", "container"],
    ),
    (Meaning::Name, &["name", "stock", "label", "called"]),
    (Meaning::Species, &["species", "fish", "scientificname", "latinname", "what"]),
    (Meaning::Form, &["form", "strain", "variety", "colour", "color", "line"]),
    (Meaning::Numbers, &["numbers", "number", "count", "howmany", "quantity", "qty", "no", "total", "n"]),
    (Meaning::Males, &["males", "male", "m"]),
    (Meaning::Females, &["females", "female", "f"]),
    (Meaning::Unsexed, &["unsexed", "young", "fry", "juveniles", "u"]),
    (Meaning::Notes, &["notes", "note", "remarks", "remark", "comment", "comments"]),
];

/// Reads a list; the separator is whichever of comma, semicolon and tab the first line has most of.
///
/// # Errors
/// Everything that is wrong with it.
pub fn read(text: &str) -> Result<Sheet, Vec<WrongCell>> {
    let text = text.trim_start_matches('\u{feff}');
    let first = text.lines().next().unwrap_or_default();
    let most = |c: &u8| first.bytes().filter(|b| b == c).count();
    let delimiter = [b',', b';', b'\t'].into_iter().max_by_key(|c| (most(c), *c == b',')).unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .flexible(true)
        .has_headers(false)
        .from_reader(text.as_bytes());
    let mut records = reader.records();
    let broken = |line: u64, why: String| WrongCell { line, column: None, why };
    let head = match records.next() {
        Some(Ok(head)) => head,
        Some(Err(e)) => return Err(vec![broken(1, e.to_string())]),
        None => return Err(vec![broken(1, "the file is empty".into())]),
    };
    let (columns, ignored) = columns(&head)?;
    let (mut rows, mut wrong) = (Vec::new(), Vec::new());
    for record in records {
        let record = match record {
            Ok(record) => record,
            Err(e) => {
                wrong.push(broken(e.position().map_or(0, csv::Position::line), e.to_string()));
                continue;
            }
        };
        if record.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        let line = Line {
            number: record.position().map_or(0, csv::Position::line),
            record: &record,
            columns: &columns,
        };
        match line.row() {
            Ok(row) => rows.push(row),
            Err(mut cells) => wrong.append(&mut cells),
        }
    }
    if wrong.is_empty() && rows.is_empty() {
        wrong.push(broken(1, "there is no stock in it".into()));
    }
    if wrong.is_empty() { Ok(Sheet { rows, ignored }) } else { Err(wrong) }
}

type Columns = Vec<(Meaning, usize, String)>;

fn columns(head: &csv::StringRecord) -> Result<(Columns, Vec<String>), Vec<WrongCell>> {
    let (mut columns, mut ignored, mut wrong): (Columns, _, _) = (Vec::new(), Vec::new(), Vec::new());
    for (i, title) in head.iter().enumerate() {
        let letters: String =
            title.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect();
        let meaning = HEADERS.iter().find(|(_, names)| names.contains(&letters.as_str())).map(|(m, _)| *m);
        let title = plain(title).to_owned();
        match meaning {
            Some(meaning) => {
                if let Some((_, n, other)) = columns.iter().find(|(known, ..)| *known == meaning) {
                    let why = format!("means the same as column {} ({other})", n + 1);
                    wrong.push(WrongCell { line: 1, column: Some((i + 1, title.clone())), why });
                }
                columns.push((meaning, i, title));
            }
            None if title.is_empty() => {}
            None => ignored.push(title),
        }
    }
    let has = |wanted: &[Meaning]| columns.iter().any(|(m, ..)| wanted.contains(m));
    let mut missing = |what: &str| {
        wrong.push(WrongCell { line: 1, column: None, why: format!("no column is named {what}") })
    };
    if !has(&[Meaning::Tank]) {
        missing("tank");
    }
    if !has(&[Meaning::Species, Meaning::Name]) {
        missing("species or name");
    }
    if !has(&[Meaning::Numbers, Meaning::Males, Meaning::Females, Meaning::Unsexed]) {
        missing("numbers");
    }
    if wrong.is_empty() { Ok((columns, ignored)) } else { Err(wrong) }
}

struct Line<'a> {
    number: u64,
    record: &'a csv::StringRecord,
    columns: &'a Columns,
}

impl Line<'_> {
    fn cell(&self, meaning: Meaning) -> Option<&str> {
        let (_, i, _) = self.columns.iter().find(|(m, ..)| *m == meaning)?;
        self.record.get(*i).map(plain).filter(|text| !text.is_empty())
    }

    fn wrong(&self, meaning: Meaning, why: impl fmt::Display) -> WrongCell {
        let column =
            self.columns.iter().find(|(m, ..)| *m == meaning).map(|(_, i, title)| (i + 1, title.clone()));
        WrongCell { line: self.number, column, why: why.to_string() }
    }

    fn row(&self) -> Result<SheetRow, Vec<WrongCell>> {
        let mut wrong = Vec::new();
        for (meaning, i, title) in self.columns {
            let text = self.record.get(*i).unwrap_or_default();
            if *meaning != Meaning::Notes && plain(text).chars().any(char::is_control) {
                wrong.push(WrongCell {
                    line: self.number,
                    column: Some((i + 1, title.clone())),
                    why: "has a line break in it".into(),
                });
            }
        }
        let own = |meaning| self.cell(meaning).map(str::to_owned);
        let tank = own(Meaning::Tank);
        if tank.is_none() {
            wrong.push(self.wrong(Meaning::Tank, "names no tank"));
        }
        let (name, species) = (own(Meaning::Name), own(Meaning::Species));
        if name.is_none() && species.is_none() {
            let meaning = if self.columns.iter().any(|(m, ..)| *m == Meaning::Species) {
                Meaning::Species
            } else {
                Meaning::Name
            };
            wrong.push(self.wrong(meaning, "names no fish"));
        }
        let numbers = self.numbers().map_err(|cell| wrong.push(cell)).ok();
        match (tank, numbers) {
            (Some(tank), Some(numbers)) if wrong.is_empty() => {
                let (form, notes) = (own(Meaning::Form), own(Meaning::Notes));
                Ok(SheetRow { tank, name, species, form, numbers, notes })
            }
            _ => Err(wrong),
        }
    }

    fn numbers(&self) -> Result<Typed, WrongCell> {
        if let Some(text) = self.cell(Meaning::Numbers) {
            return text.parse().map_err(|e| self.wrong(Meaning::Numbers, e));
        }
        let mut parts = Vec::new();
        for meaning in [Meaning::Males, Meaning::Females, Meaning::Unsexed] {
            let text = self.cell(meaning).unwrap_or("0");
            if text.parse::<u32>().is_err() {
                return Err(self.wrong(meaning, format!("{text:?} is no whole number")));
            }
            parts.push(text);
        }
        if parts.iter().all(|n| *n == "0") {
            let found = [Meaning::Numbers, Meaning::Males, Meaning::Females, Meaning::Unsexed];
            let first = found.into_iter().find(|m| self.columns.iter().any(|(c, ..)| c == m));
            return Err(self.wrong(first.unwrap_or(Meaning::Numbers), "says not how many there are"));
        }
        parts.join(".").parse().map_err(|e| self.wrong(Meaning::Males, e))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wrong(text: &str) -> Vec<String> {
        read(text).expect_err("something wrong").iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_keeper_s_list_is_read() {
        let sheet = read("\u{feff}Tank No.;Species;How many;Remarks;Bought\nA1;Danio rerio;about 40;\"lively; fast\";x\n\n A2 ;'=Barb;2 m 3 f;;\n")
            .expect("a list");
        assert_eq!(sheet.ignored, ["Bought"]);
        let row = &sheet.rows[0];
        assert_eq!(
            (row.tank.as_str(), row.species.as_deref(), row.notes.as_deref()),
            ("A1", Some("Danio rerio"), Some("lively; fast"))
        );
        assert_eq!(sheet.rows[1].species.as_deref(), Some("=Barb"));
        assert_eq!(sheet.rows.len(), 2);
    }

    #[test]
    fn sexes_may_have_columns_of_their_own() {
        let sheet = read("tank,name,m,f,young\nA1,Blue,2,3,\n").expect("a list");
        assert_eq!(Ok(sheet.rows[0].numbers.clone()), "2.3.0".parse());
        assert_eq!(
            wrong("tank,name,m,f\nA1,Blue,2,many\n"),
            ["line 2, column 4 (f): \"many\" is no whole number"]
        );
        assert_eq!(
            wrong("tank,name,m,f\nA1,Blue,,\n"),
            ["line 2, column 3 (m): says not how many there are"]
        );
    }

    #[test]
    fn every_wrong_cell_is_named_by_line_and_column() {
        let text = "tank,species,numbers\nA1,Danio rerio,lots\n,Danio rerio,3\n\"A\n3\",,1.1\n";
        let wrong = wrong(text);
        assert!(
            wrong[0].starts_with("line 2, column 3 (numbers): \"lots\" is no number of fish"),
            "{wrong:?}"
        );
        assert_eq!(wrong[1], "line 3, column 1 (tank): names no tank");
        assert_eq!(wrong[2], "line 4, column 1 (tank): has a line break in it");
        assert_eq!(wrong[3], "line 4, column 2 (species): names no fish");
        assert_eq!(wrong.len(), 4);
    }

    #[test]
    fn a_list_without_its_columns_is_refused() {
        assert_eq!(
            wrong("tank,colour\nA1,red\n"),
            ["line 1: no column is named species or name", "line 1: no column is named numbers"]
        );
        assert_eq!(
            wrong("tank,tank no,species,n\n"),
            ["line 1, column 2 (tank no): means the same as column 1 (tank)"]
        );
        assert_eq!(wrong(""), ["line 1: the file is empty"]);
        assert_eq!(wrong("tank,species,n\n"), ["line 1: there is no stock in it"]);
    }
}
