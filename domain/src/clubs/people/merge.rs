//! A list from elsewhere over the club's own: who is meant by each line, and what changes. All of it or nothing.

use std::collections::BTreeMap;

use super::line::{Fault, Field, Line, Typed};

/// What a line of the list does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Change<Id> {
    /// Somebody new.
    Added(Line),
    /// Somebody who is there, otherwise.
    Changed(Id, Line),
}

/// What the whole list does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Merged<Id> {
    /// In the order of the lines.
    pub changes: Vec<Change<Id>>,
    /// How many lines say what is there already.
    pub same: usize,
}

/// Lays lines over a list. A line means whoever has its number; without a number, or if nobody has it, the one without
/// a number whose name and household are the same. Who is not in the lines stays as they are.
///
/// # Errors
/// Everything that is wrong, with the place of its line among the given ones.
pub fn merge<Id: Copy + Ord>(
    list: &[(Id, Line)],
    lines: &[Typed],
) -> Result<Merged<Id>, Vec<(usize, Fault)>> {
    let mut faults = Vec::new();
    let mut meant: BTreeMap<Id, usize> = BTreeMap::new();
    let mut merged = Merged { changes: Vec::new(), same: 0 };
    let mut numbers: BTreeMap<String, usize> = BTreeMap::new();
    for (place, typed) in lines.iter().enumerate() {
        let old = whom(list, typed);
        let line = match typed.over(old.map(|(_, line)| line)) {
            Ok(line) => line,
            Err(wrong) => {
                faults.extend(wrong.into_iter().map(|fault| (place, fault)));
                continue;
            }
        };
        let number = line.number.as_ref().map(|number| number.as_str().to_owned());
        if number.is_some_and(|number| numbers.insert(number, place).is_some()) {
            let why = "Two lines have this number.";
            faults.push((place, Fault { field: Field::Number, why }));
            continue;
        }
        match old {
            Some((id, _)) if meant.insert(*id, place).is_some() => {
                let why = "Two lines mean the same person; give each a number.";
                faults.push((place, Fault { field: Field::Name, why }));
            }
            Some((_, old)) if *old == line => merged.same += 1,
            Some((id, _)) => merged.changes.push(Change::Changed(*id, line)),
            None => merged.changes.push(Change::Added(line)),
        }
    }
    if faults.is_empty() { Ok(merged) } else { Err(faults) }
}

fn whom<'a, Id>(list: &'a [(Id, Line)], typed: &Typed) -> Option<&'a (Id, Line)> {
    let number = typed.get(Field::Number).filter(|number| !number.is_empty());
    let by_number = |wanted: &str| {
        list.iter().find(|(_, line)| line.number.as_ref().is_some_and(|number| number.as_str() == wanted))
    };
    let same_household = |line: &Line| match typed.get(Field::Household) {
        None => true,
        Some(text) => line.household.as_ref().map_or("", |household| household.as_str()) == text,
    };
    number.and_then(by_number).or_else(|| {
        let name = typed.get(Field::Name)?;
        let mut alike = list
            .iter()
            .filter(|(_, line)| line.name.as_str() == name && same_household(line))
            .filter(|(_, line)| number.is_none() || line.number.is_none());
        // of two who can't be told apart neither is meant
        alike.next().filter(|_| alike.next().is_none())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(cells: &[(Field, &str)]) -> Typed {
        Typed(cells.iter().map(|(field, text)| (*field, (*text).to_owned())).collect())
    }

    fn line(cells: &[(Field, &str)]) -> Line {
        typed(cells).over(None).expect("a line")
    }

    fn list() -> Vec<(u8, Line)> {
        vec![
            (1, line(&[(Field::Number, "7"), (Field::Name, "Ida Brook"), (Field::PaidUntil, "2025-12-31")])),
            (2, line(&[(Field::Name, "Otto Fenn"), (Field::Household, "Mill Row 3")])),
            (3, line(&[(Field::Name, "Otto Fenn"), (Field::Household, "Quay 9")])),
        ]
    }

    #[test]
    fn the_same_list_again_changes_nothing() {
        let lines = [
            typed(&[(Field::Number, "7"), (Field::Name, "Ida Brook-Hale"), (Field::PaidUntil, "2026-12-31")]),
            typed(&[(Field::Number, ""), (Field::Name, "Otto Fenn"), (Field::Household, "Quay 9")]),
            typed(&[(Field::Number, "8"), (Field::Name, "Nell Marsh")]),
        ];
        let merged = merge(&list(), &lines).expect("taken");
        assert_eq!(merged.same, 1);
        let mut now = list();
        for change in merged.changes {
            match change {
                Change::Changed(id, line) => {
                    now.iter_mut().find(|(of, _)| *of == id).expect("there").1 = line
                }
                Change::Added(line) => now.push((9, line)),
            }
        }
        assert_eq!(now[0].1.name.as_str(), "Ida Brook-Hale");
        assert_eq!(merge(&now, &lines).expect("taken"), Merged { changes: Vec::new(), same: 3 });
    }

    #[test]
    fn a_number_is_given_to_somebody_who_had_none() {
        let lines =
            [typed(&[(Field::Number, "12"), (Field::Name, "Otto Fenn"), (Field::Household, "Quay 9")])];
        let merged = merge(&list(), &lines).expect("taken");
        assert!(matches!(&merged.changes[..], [Change::Changed(3, line)] if line.number.is_some()));
    }

    #[test]
    fn of_two_who_look_alike_nobody_is_meant() {
        let merged = merge(&list(), &[typed(&[(Field::Name, "Otto Fenn")])]).expect("taken");
        assert!(matches!(&merged.changes[..], [Change::Added(_)]));
    }

    #[test]
    fn what_is_wrong_is_told_by_line_and_nothing_is_taken() {
        let lines = [
            typed(&[(Field::Number, "7"), (Field::Name, "Ida Brook")]),
            typed(&[(Field::Number, "7"), (Field::Name, "Somebody Else")]),
            typed(&[(Field::Name, ""), (Field::PaidUntil, "soon")]),
        ];
        let faults = merge(&list(), &lines).expect_err("refused");
        let told: Vec<(usize, Field)> = faults.iter().map(|(place, fault)| (*place, fault.field)).collect();
        assert_eq!(told, [(1, Field::Number), (2, Field::Name), (2, Field::PaidUntil)]);
    }
}
