//! Cells of people's spreadsheets: nothing in them may become a formula, and what was guarded is taken as it was.

const FORMULA: [char; 6] = ['=', '+', '-', '@', '\t', '\r'];

/// A cell as it is written for people.
pub fn guarded(text: &str) -> String {
    if text.starts_with(FORMULA) { format!("'{text}") } else { text.to_owned() }
}

/// A cell as it was meant.
pub fn plain(text: &str) -> &str {
    let inner = text.strip_prefix('\'').filter(|rest| rest.starts_with(FORMULA));
    inner.unwrap_or(text).trim()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_guarded_both_ways() {
        for text in ["=1+1", "+49", "-3", "@x", "\tx", "\rx"] {
            assert_eq!(guarded(text), format!("'{text}"));
            assert_eq!(plain(&guarded(text)), text.trim());
        }
        assert_eq!(guarded("Danio's"), "Danio's");
        assert_eq!(plain("'quoted'"), "'quoted'");
    }
}
