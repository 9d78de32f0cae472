//! How wide words are, in tenths of a px, and where they break: from a table that is a little too wide rather than too
//! narrow, since nobody can measure a font here. Knows no picture.

/// A size of type, and whether it is bold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Type {
    /// In px.
    pub size: i32,
    /// Whether it is bold.
    pub bold: bool,
}

/// Thousandths of the size that a letter takes in the sans of the pages, by the widest of its kind.
fn advance(letter: char, bold: bool) -> i32 {
    let regular = match letter {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | '\u{2019}' | ' ' | '\u{a0}' => 290,
        'f' | 'r' | 't' | 'I' | '-' | '(' | ')' => 390,
        'm' | 'w' | 'M' | 'W' => 860,
        'a'..='z' => 575,
        '0'..='9' => 650,
        'A'..='Z' => 725,
        // says only that the sign before it is no coloured picture
        '\u{fe0e}' => return 0,
        // unknown letters may be set in another font
        _ => 900,
    };
    if bold { regular + 40 } else { regular }
}

/// How wide words are, in tenths of a px.
pub fn width(words: &str, of: Type) -> i32 {
    let thousandths: i32 = words.chars().map(|letter| advance(letter, of.bold)).sum();
    (thousandths * of.size + 99) / 100
}

/// Breaks words into lines that are no wider. A single word that is wider stays whole.
pub fn lines(words: &str, of: Type, most: i32) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for word in words.split(' ').filter(|word| !word.is_empty()) {
        match all.last_mut() {
            Some(last) if width(&format!("{last} {word}"), of) <= most => {
                last.push(' ');
                last.push_str(word);
            }
            _ => all.push(word.to_owned()),
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_no_wider_than_they_may_be() {
        let of = Type { size: 13, bold: false };
        let words = "more fish came into this water and the days began again for all of them";
        let broken = lines(words, of, 2000);
        assert!(broken.len() > 1 && broken.iter().all(|line| width(line, of) <= 2000), "{broken:?}");
        assert_eq!(broken.join(" "), words);
        assert!(width("wide", Type { bold: true, ..of }) > width("wide", of));
    }
}
