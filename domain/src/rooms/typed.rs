//! Numbers of fish as a keeper types them. Must not know of which brood they are.

use std::str::FromStr;

use super::numbers::{Count, Node, Row, Sex};

/// Numbers as a keeper types them, before anybody knows of which node: "2.3.10", "2 m 3 f", "about 40",
/// "12", "26 eggs".
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Typed(pub Vec<(Sex, Count, bool)>);

/// A text that is no number of fish.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{0:?} is no number of fish; write 2.3.10 (males.females.unsexed), \"2 m 3 f\", \"about 40\" or \"26 eggs\""
)]
pub struct NotNumbers(String);

impl Typed {
    /// The rows of these numbers for one node.
    pub fn rows(&self, node: Node) -> Vec<Row> {
        self.0.iter().map(|&(sex, n, about)| Row { node, sex, n, about }).collect()
    }
}

impl FromStr for Typed {
    type Err = NotNumbers;

    fn from_str(text: &str) -> Result<Self, NotNumbers> {
        let wrong = || NotNumbers(text.to_owned());
        let count = |t: &str| t.parse().ok().and_then(Count::of);
        let lower = text.trim().to_lowercase();
        let (about, rest) = match lower.strip_prefix("about ").or_else(|| lower.strip_prefix("ca. ")) {
            Some(rest) => (true, rest.trim()),
            None => (lower.starts_with('~'), lower.trim_start_matches('~').trim()),
        };
        let parts: Vec<&str> = rest.split('.').collect();
        let mut rows: Vec<(Sex, Count, bool)> = Vec::new();
        if (2..=4).contains(&parts.len()) && parts.iter().all(|p| count(p).is_some()) {
            let sexes = [Sex::Male, Sex::Female, Sex::Unsexed, Sex::Eggs];
            rows.extend(parts.iter().zip(sexes).filter_map(|(p, sex)| Some((sex, count(p)?, about))));
        } else {
            let mut number = None;
            for word in words(rest) {
                match (number.take(), word) {
                    (None, Word::Number(n)) => number = Some(count(n).ok_or_else(wrong)?),
                    (Some(n), Word::Sex(sex)) => rows.push((sex, n, about)),
                    _ => return Err(wrong()),
                }
            }
            if let Some(n) = number {
                if rows.iter().any(|row| row.0 == Sex::Unsexed) {
                    return Err(wrong());
                }
                rows.push((Sex::Unsexed, n, about));
            }
        }
        let mut sexes: Vec<Sex> = rows.iter().map(|row| row.0).collect();
        sexes.sort_unstable();
        if rows.is_empty() || sexes.windows(2).any(|pair| pair[0] == pair[1]) {
            return Err(wrong());
        }
        let some = rows.len() == 1 || rows.iter().all(|row| row.1.get() == 0);
        rows.retain(|row| some || row.1.get() > 0);
        Ok(Self(rows))
    }
}

enum Word<'a> {
    Number(&'a str),
    Sex(Sex),
    Other,
}

/// Splits "2m 3 f, 10 young" into numbers and words.
fn words(text: &str) -> Vec<Word<'_>> {
    let mut out = Vec::new();
    for piece in text.split(|c: char| c.is_whitespace() || c == ',').filter(|p| !p.is_empty()) {
        let cut = piece.find(|c: char| !c.is_ascii_digit()).unwrap_or(piece.len());
        let (number, word) = piece.split_at(cut);
        if !number.is_empty() {
            out.push(Word::Number(number));
        }
        match word {
            "" => {}
            "m" | "male" | "males" | "\u{2642}" => out.push(Word::Sex(Sex::Male)),
            "f" | "female" | "females" | "\u{2640}" => out.push(Word::Sex(Sex::Female)),
            "u" | "unsexed" | "young" | "fry" | "fish" => out.push(Word::Sex(Sex::Unsexed)),
            "e" | "egg" | "eggs" => out.push(Word::Sex(Sex::Eggs)),
            "any" => out.push(Word::Sex(Sex::Any)),
            _ => out.push(Word::Other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn typed(text: &str) -> Vec<(Sex, i64, bool)> {
        text.parse::<Typed>()
            .expect(text)
            .0
            .into_iter()
            .map(|(sex, n, about)| (sex, n.get(), about))
            .collect()
    }

    /// The spelling "males.females.unsexed" is common practice, no source.
    #[test]
    fn numbers_are_read_as_keepers_write_them() {
        use Sex::{Eggs, Female, Male, Unsexed};
        assert_eq!(typed("2.3.10"), [(Male, 2, false), (Female, 3, false), (Unsexed, 10, false)]);
        assert_eq!(typed("1.1"), [(Male, 1, false), (Female, 1, false)]);
        assert_eq!(typed("0.0.12"), [(Unsexed, 12, false)]);
        assert_eq!(typed("2 m 3 f"), [(Male, 2, false), (Female, 3, false)]);
        assert_eq!(typed("2m 3f, 4 young"), [(Male, 2, false), (Female, 3, false), (Unsexed, 4, false)]);
        assert_eq!(typed("about 40"), [(Unsexed, 40, true)]);
        assert_eq!(typed("26 eggs"), [(Eggs, 26, false)]);
        assert_eq!(typed("0"), [(Unsexed, 0, false)]);
        for wrong in ["", "many", "2 m 3", "2.x", "-3", "2 m 2 m", "99999999999", "1.2.3.4.5", "m"] {
            if wrong == "2 m 3" {
                assert_eq!(typed(wrong), [(Male, 2, false), (Unsexed, 3, false)]);
            } else {
                assert!(wrong.parse::<Typed>().is_err(), "{wrong}");
            }
        }
    }

    proptest! {
        #[test]
        fn typed_numbers_never_panic(text in "\\PC{0,20}") {
            let _ = text.parse::<Typed>();
        }
    }
}
