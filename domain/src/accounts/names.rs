//! Names of people: the one to sign in with, the one others read, and where to write to.

use std::fmt;

use serde::{Deserialize, Serialize};

/// What somebody signs in with: 2 to 32 of `a`–`z`, digits, `-`, `_` and `.`, in lower case; a letter or digit at
/// both ends.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct LoginName(String);

impl LoginName {
    /// Takes what was typed; capitals and spaces around it don't count.
    pub fn parse(text: &str) -> Result<Self, &'static str> {
        let name = text.trim().to_ascii_lowercase();
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit();
        if !(2..=32).contains(&name.chars().count()) {
            return Err("A login name has 2 to 32 signs.");
        }
        if !name.chars().all(|c| plain(c) || "-_.".contains(c)) {
            return Err("A login name is made of the letters a to z, digits, and - _ and the full stop.");
        }
        if !name.starts_with(plain) || !name.ends_with(plain) {
            return Err("A login name begins and ends with a letter or a digit.");
        }
        Ok(Self(name))
    }

    /// The name.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for LoginName {
    type Error = &'static str;
    fn try_from(text: String) -> Result<Self, Self::Error> {
        Self::parse(&text)
    }
}

impl From<LoginName> for String {
    fn from(name: LoginName) -> Self {
        name.0
    }
}

impl fmt::Display for LoginName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What others read: 1 to 60 signs, no control signs and none that turn the direction of writing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShownName(String);

impl ShownName {
    /// Takes what was typed; spaces around it don't count.
    pub fn parse(text: &str) -> Result<Self, &'static str> {
        let name = text.trim();
        let turns = |c: char| matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
        if !(1..=60).contains(&name.chars().count()) {
            return Err("A shown name has 1 to 60 signs.");
        }
        if name.chars().any(|c| c.is_control() || turns(c)) {
            return Err("A shown name has no line breaks and no invisible signs.");
        }
        Ok(Self(name.to_owned()))
    }

    /// The name.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether it reads like these words: spaces, signs and capitals don't count, nor does what can't be seen. Letters of
    /// other alphabets that look alike do.
    pub fn reads_like(&self, words: &str) -> bool {
        let letters = |text: &str| -> String {
            text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
        };
        letters(&self.0) == letters(words)
    }
}

/// Where to write to. Only that it looks like an address is checked; that it reaches somebody only mail can show.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Email(String);

impl Email {
    /// Takes what was typed; capitals and spaces around it don't count.
    pub fn parse(text: &str) -> Result<Self, &'static str> {
        let address = text.trim().to_lowercase();
        let looks_right = address.len() <= 254
            && !address.chars().any(|c| c.is_whitespace() || c.is_control() || "<>,;\"".contains(c))
            && address.split_once('@').is_some_and(|(name, host)| {
                !name.is_empty()
                    && !host.contains('@')
                    && !host.starts_with('.')
                    && !host.ends_with('.')
                    && !host.is_empty()
            });
        if looks_right { Ok(Self(address)) } else { Err("This does not look like an e-mail address.") }
    }

    /// The address.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_reads_like_another_is_known() {
        let reads = |name: &str| ShownName::parse(name).expect("a name").reads_like("a young member");
        assert!(reads("A Young Member") && reads("a\u{a0}young\u{200b} member.") && reads("a  young member"));
        assert!(!reads("a young remember") && !reads("Ida Brook"));
    }

    #[test]
    fn login_names_are_lowered_and_checked() {
        assert_eq!(LoginName::parse(" Mira.K ").map(|n| n.to_string()), Ok("mira.k".into()));
        for wrong in ["", "a", "-ab", "ab.", "a b", "mürra", "a/b", &"x".repeat(33)] {
            assert!(LoginName::parse(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn shown_names_take_any_script_but_nothing_invisible() {
        assert!(ShownName::parse("Łucja Ø").is_ok());
        for wrong in ["", "  ", "a\nb", "a\u{202e}b"] {
            assert!(ShownName::parse(wrong).is_err(), "{wrong:?}");
        }
    }

    #[test]
    fn addresses_look_like_addresses() {
        assert_eq!(
            Email::parse("Mira@Example.org").map(|e| e.as_str().to_owned()),
            Ok("mira@example.org".into())
        );
        for wrong in
            ["", "mira", "@example.org", "mira@", "a b@example.org", "a@b@c", "mira@example.org\r\nBcc: x"]
        {
            assert!(Email::parse(wrong).is_err(), "{wrong:?}");
        }
    }
}
