//! One line of the member list, and how somebody stands by it.

use std::fmt;

use chrono::{Datelike, NaiveDate};

use crate::accounts::{Email, ShownName};

/// The club's own number of somebody: 1 to 20 letters, digits, `-`, `/` and `.`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct MemberNumber(String);

impl MemberNumber {
    /// Takes what was typed; spaces around it don't count.
    pub fn parse(text: &str) -> Result<Self, &'static str> {
        let number = text.trim();
        let plain = |c: char| c.is_alphanumeric() || "-/.".contains(c);
        if !(1..=20).contains(&number.chars().count()) || !number.chars().all(plain) {
            return Err("A member number has 1 to 20 letters, digits, - / and full stops.");
        }
        Ok(Self(number.to_owned()))
    }

    /// The number.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// Those who live together have the same: 1 to 40 signs.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Household(String);

impl Household {
    /// Takes what was typed; spaces around it don't count.
    pub fn parse(text: &str) -> Result<Self, &'static str> {
        let household = text.trim();
        if !(1..=40).contains(&household.chars().count()) || household.chars().any(char::is_control) {
            return Err("A household has a name of 1 to 40 signs.");
        }
        Ok(Self(household.to_owned()))
    }

    /// Its name.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// The last day that is paid for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct PaidUntil(pub NaiveDate);

impl PaidUntil {
    /// Takes a day as `2026-12-31`.
    pub fn parse(text: &str) -> Result<Self, &'static str> {
        let day = NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d").ok();
        let day = day.filter(|day| (1900..2200).contains(&day.year()));
        day.map(Self).ok_or("A day is written as 2026-12-31.")
    }
}

impl fmt::Display for PaidUntil {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.format("%Y-%m-%d"))
    }
}

/// As what somebody belongs to the club.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Belongs {
    /// Pays, votes, may be an officer.
    #[default]
    Member,
    /// Comes along and owes nothing; can be no officer.
    Guest,
}

/// A line of the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// The club's own number.
    pub number: Option<MemberNumber>,
    /// What the club calls them; of somebody with an account that account's shown name goes before it.
    pub name: ShownName,
    /// Where to write to.
    pub email: Option<Email>,
    /// With whom they live.
    pub household: Option<Household>,
    /// As what.
    pub belongs: Belongs,
    /// Until when they have paid.
    pub paid_until: Option<PaidUntil>,
    /// Whether the club has struck them off without their leaving.
    pub lapsed: bool,
}

/// How somebody stands with the club on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Owes nothing.
    Guest,
    /// Struck off.
    Lapsed,
    /// What was paid for is over.
    Owing(PaidUntil),
    /// Paid.
    Paid(PaidUntil),
    /// Nothing is written down.
    NotSaid,
}

impl Standing {
    /// Its word in the API.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Guest => "guest",
            Self::Lapsed => "lapsed",
            Self::Owing(_) => "owing",
            Self::Paid(_) => "paid",
            Self::NotSaid => "not_said",
        }
    }
}

impl Line {
    /// What stands in a field, as it is typed; nothing for what is not written down.
    pub fn text(&self, field: Field) -> String {
        let yes = |is: bool| Some(if is { "yes" } else { "" });
        let text = match field {
            Field::Number => self.number.as_ref().map(MemberNumber::as_str),
            Field::Name => Some(self.name.as_str()),
            Field::Email => self.email.as_ref().map(Email::as_str),
            Field::Household => self.household.as_ref().map(Household::as_str),
            Field::Guest => yes(self.belongs == Belongs::Guest),
            Field::PaidUntil => return self.paid_until.map_or_else(String::new, |day| day.to_string()),
            Field::Lapsed => yes(self.lapsed),
        };
        text.unwrap_or_default().to_owned()
    }

    /// The line as it would be typed.
    pub fn as_typed(&self) -> Typed {
        Typed(Field::ALL.map(|field| (field, self.text(field))).to_vec())
    }

    /// How they stand on a day. Who paid until a day has paid for that day.
    pub fn standing(&self, today: NaiveDate) -> Standing {
        match (self.belongs, self.lapsed, self.paid_until) {
            (_, true, _) => Standing::Lapsed,
            (Belongs::Guest, ..) => Standing::Guest,
            (_, _, None) => Standing::NotSaid,
            (_, _, Some(until)) if until.0 < today => Standing::Owing(until),
            (_, _, Some(until)) => Standing::Paid(until),
        }
    }
}

/// A field of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Field {
    /// The club's own number.
    Number,
    /// The name.
    Name,
    /// Where to write to.
    Email,
    /// With whom they live.
    Household,
    /// Whether a guest.
    Guest,
    /// Until when it is paid.
    PaidUntil,
    /// Whether struck off.
    Lapsed,
}

impl Field {
    /// All of them, in the order of a sheet.
    pub const ALL: [Self; 7] =
        [Self::Number, Self::Name, Self::Email, Self::Household, Self::Guest, Self::PaidUntil, Self::Lapsed];

    /// Its name in the API, in a form and at the top of a sheet's column.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Number => "number",
            Self::Name => "name",
            Self::Email => "email",
            Self::Household => "household",
            Self::Guest => "guest",
            Self::PaidUntil => "paid_until",
            Self::Lapsed => "lapsed",
        }
    }

    /// The field of this name, as people write it atop a column: capitals, spaces and hyphens don't count.
    pub fn parse(name: &str) -> Option<Self> {
        let bare = |name: &str| name.trim().to_lowercase().replace([' ', '-', '_'], "");
        Self::ALL.into_iter().find(|field| bare(field.as_str()) == bare(name))
    }
}

/// What is wrong with a field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Which.
    pub field: Field,
    /// What, as a sentence.
    pub why: &'static str,
}

/// What was typed of a line; a field that is not there stays as it was.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Typed(pub Vec<(Field, String)>);

impl Typed {
    /// What stands in a field, without the spaces around it.
    pub fn get(&self, field: Field) -> Option<&str> {
        self.0.iter().find(|(of, _)| *of == field).map(|(_, text)| text.trim())
    }

    /// The line that comes of it, or everything that is wrong.
    pub fn over(&self, old: Option<&Line>) -> Result<Line, Vec<Fault>> {
        let mut faults = Vec::new();
        let name =
            self.get(Field::Name).map(ShownName::parse).or_else(|| old.map(|old| Ok(old.name.clone())));
        let name = name.unwrap_or(Err("Somebody on the list has a name."));
        let name = name.map_err(|why| {
            let why = if self.get(Field::Name).is_none_or(str::is_empty) {
                "Somebody on the list has a name."
            } else {
                why
            };
            faults.push(Fault { field: Field::Name, why });
        });
        let number =
            self.may(Field::Number, old.and_then(|o| o.number.clone()), MemberNumber::parse, &mut faults);
        let email = self.may(Field::Email, old.and_then(|o| o.email.clone()), Email::parse, &mut faults);
        let household =
            self.may(Field::Household, old.and_then(|o| o.household.clone()), Household::parse, &mut faults);
        let paid_until =
            self.may(Field::PaidUntil, old.and_then(|o| o.paid_until), PaidUntil::parse, &mut faults);
        let guest = self.yes(Field::Guest, old.is_some_and(|o| o.belongs == Belongs::Guest), &mut faults);
        let lapsed = self.yes(Field::Lapsed, old.is_some_and(|o| o.lapsed), &mut faults);
        let belongs = if guest { Belongs::Guest } else { Belongs::Member };
        match name {
            Ok(name) if faults.is_empty() => {
                Ok(Line { number, name, email, household, belongs, paid_until, lapsed })
            }
            _ => {
                faults.sort_by_key(|fault| fault.field);
                Err(faults)
            }
        }
    }

    fn may<T>(
        &self,
        field: Field,
        old: Option<T>,
        parse: impl Fn(&str) -> Result<T, &'static str>,
        faults: &mut Vec<Fault>,
    ) -> Option<T> {
        match self.get(field) {
            None => old,
            Some("") => None,
            Some(text) => parse(text).map_err(|why| faults.push(Fault { field, why })).ok(),
        }
    }

    fn yes(&self, field: Field, old: bool, faults: &mut Vec<Fault>) -> bool {
        let Some(text) = self.get(field) else { return old };
        match text.to_lowercase().as_str() {
            "yes" | "true" | "1" | "x" => true,
            "" | "no" | "false" | "0" => false,
            _ => {
                faults.push(Fault { field, why: "Write yes or no." });
                false
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(fields: &[(Field, &str)]) -> Typed {
        Typed(fields.iter().map(|(field, text)| (*field, (*text).to_owned())).collect())
    }

    fn day(text: &str) -> NaiveDate {
        PaidUntil::parse(text).expect("a day").0
    }

    #[test]
    fn every_fault_of_a_line_is_named() {
        let wrong = typed(&[
            (Field::Name, " "),
            (Field::Email, "nobody"),
            (Field::PaidUntil, "31.12.2026"),
            (Field::Lapsed, "perhaps"),
            (Field::Number, "12 a"),
        ]);
        let faults = wrong.over(None).expect_err("refused");
        let fields: Vec<Field> = faults.iter().map(|fault| fault.field).collect();
        assert_eq!(fields, [Field::Number, Field::Name, Field::Email, Field::PaidUntil, Field::Lapsed]);
    }

    #[test]
    fn what_is_not_typed_stays_and_what_is_empty_goes() {
        let first = typed(&[(Field::Name, "Ida"), (Field::Number, "7"), (Field::PaidUntil, "2026-12-31")]);
        let line = first.over(None).expect("a line");
        let next = typed(&[(Field::Number, ""), (Field::Guest, "Yes")]).over(Some(&line)).expect("a line");
        assert_eq!((next.number, next.name.as_str(), next.belongs), (None, "Ida", Belongs::Guest));
        assert_eq!(next.paid_until, line.paid_until);
    }

    #[test]
    fn who_paid_until_a_day_owes_from_the_next() {
        let line =
            typed(&[(Field::Name, "Ida"), (Field::PaidUntil, "2026-12-31")]).over(None).expect("a line");
        let until = PaidUntil(day("2026-12-31"));
        assert_eq!(line.standing(day("2026-12-31")), Standing::Paid(until));
        assert_eq!(line.standing(day("2027-01-01")), Standing::Owing(until));
        let guest = typed(&[(Field::Guest, "yes")]).over(Some(&line)).expect("a line");
        assert_eq!(guest.standing(day("2027-01-01")), Standing::Guest);
        let lapsed = typed(&[(Field::Lapsed, "yes")]).over(Some(&guest)).expect("a line");
        assert_eq!(lapsed.standing(day("2026-01-01")), Standing::Lapsed);
    }

    #[test]
    fn what_a_line_tells_makes_the_same_line() {
        let cells = [
            (Field::Name, "Ida"),
            (Field::Number, "7"),
            (Field::Lapsed, "x"),
            (Field::Email, "i@example.org"),
        ];
        let line = typed(&cells).over(None).expect("a line");
        assert_eq!(line.as_typed().over(None), Ok(line));
    }

    #[test]
    fn columns_are_found_as_people_write_them() {
        assert_eq!(Field::parse(" Paid until "), Some(Field::PaidUntil));
        assert_eq!(Field::parse("E-Mail"), Some(Field::Email));
        assert_eq!(Field::parse("Telephone"), None);
        for field in Field::ALL {
            assert_eq!(Field::parse(field.as_str()), Some(field));
        }
    }
}
