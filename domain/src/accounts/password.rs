//! The password policy: long, not a common one, and nothing about which signs it is made of (NIST SP 800-63B-4).

/// The shortest, in signs, while it is the only factor.
pub const MIN_LENGTH: usize = 15;
/// The shortest, in signs, beside a second factor.
pub const MIN_BESIDE_FACTOR: usize = 8;
/// The longest, in signs: hashing must not become a way to keep the server busy.
pub const MAX_LENGTH: usize = 256;

/// Those that are on everybody's list (from memory): the long ones, and those that would do beside a second factor.
const COMMON: &[&str] = &[
    "password",
    "password1",
    "password12",
    "password123",
    "password1234",
    "passw0rd",
    "p@ssw0rd",
    "p@ssword",
    "passwort",
    "passwort1",
    "passwort123",
    "12345678",
    "123456789",
    "1234567890",
    "123456789a",
    "12345678910",
    "0123456789",
    "87654321",
    "987654321",
    "9876543210",
    "123123123",
    "123321123",
    "147258369",
    "789456123",
    "1q2w3e4r",
    "1q2w3e4r5t",
    "1qaz2wsx",
    "1qazxsw2",
    "qwertyui",
    "qwertyuiop",
    "qwerty12",
    "qwerty123",
    "qwerty1234",
    "qwertz123",
    "qwertzuiop",
    "asdfghjk",
    "asdfghjkl",
    "zxcvbnm1",
    "abcdefgh",
    "abcd1234",
    "abc12345",
    "a1b2c3d4",
    "iloveyou",
    "iloveyou1",
    "sunshine",
    "princess",
    "football",
    "baseball",
    "superman",
    "starwars",
    "trustno1",
    "welcome1",
    "welcome123",
    "letmein1",
    "letmein123",
    "changeme",
    "changeme123",
    "administrator",
    "admin123",
    "admin1234",
    "computer",
    "internet",
    "whatever",
    "michelle",
    "jennifer",
    "hallo123",
    "aquarium",
    "aquarium1",
    "aquarium123",
    "passwordpassword",
    "password12345678",
    "password1234567",
    "passwort1234567",
    "correcthorsebatterystaple",
    "correct horse battery staple",
    "qwertyuiopasdfgh",
    "qwertyuiopasdfghjkl",
    "qwertyuiop123456",
    "1qaz2wsx3edc4rfv",
    "1q2w3e4r5t6y7u8i",
    "abcdefghijklmno",
    "abcdefghijklmnop",
    "abcdefghijklmnopqrstuvwxyz",
    "123456789012345",
    "1234567890123456",
    "12345678910111213",
    "987654321098765",
    "letmeinletmeinletmein",
    "iloveyouiloveyou",
    "thisismypassword",
    "thisisapassword",
    "mysecretpassword",
    "changemechangeme",
    "administrator123",
    "administratoradministrator",
    "welcometothejungle",
    "maytheforcebewithyou",
    "tobeornottobethatisthequestion",
];

/// Why a password can't be taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weakness {
    /// Fewer than [`MIN_LENGTH`] signs.
    Short,
    /// Fewer than [`MIN_BESIDE_FACTOR`] signs.
    ShortBesideFactor,
    /// More than [`MAX_LENGTH`] signs.
    Long,
    /// Everybody's, or one short piece over and over.
    Common,
    /// Little more than the person's own names.
    OwnName,
}

impl Weakness {
    /// In words, for the person who chose it.
    pub fn sentence(self) -> &'static str {
        match self {
            Self::Short => {
                "A password has at least 15 signs. Several words in a row are easy to keep in mind."
            }
            Self::ShortBesideFactor => {
                "Beside a second factor a password has at least 8 signs. Several words in a row are easy to keep in mind."
            }
            Self::Long => "A password has at most 256 signs.",
            Self::Common => "This password is on lists that are tried first. Take another.",
            Self::OwnName => "This password is little more than your own name. Take another.",
        }
    }
}

/// What else somebody signs in with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beside {
    /// Nothing.
    Nothing,
    /// A code.
    SecondFactor,
}

/// Checks a new password against the policy; `own` are the person's names and address.
pub fn check_password(password: &str, own: &[&str], beside: Beside) -> Result<(), Weakness> {
    let length = password.chars().count();
    match beside {
        Beside::Nothing if length < MIN_LENGTH => return Err(Weakness::Short),
        Beside::SecondFactor if length < MIN_BESIDE_FACTOR => return Err(Weakness::ShortBesideFactor),
        Beside::Nothing | Beside::SecondFactor => {}
    }
    if length > MAX_LENGTH {
        return Err(Weakness::Long);
    }
    let lowered = password.to_lowercase();
    if COMMON.contains(&lowered.trim()) || is_one_piece_over_and_over(&lowered) {
        return Err(Weakness::Common);
    }
    let mut names: Vec<String> =
        own.iter().map(|name| name.to_lowercase()).filter(|name| name.chars().count() > 1).collect();
    // an address holds the login name often: the longest first, or its rest would count
    names.sort_by_key(|name| std::cmp::Reverse(name.len()));
    let rest = names.into_iter().fold(lowered, |rest, name| rest.replace(&name, ""));
    if rest.chars().count() < 8 && rest.chars().count() < length { Err(Weakness::OwnName) } else { Ok(()) }
}

fn is_one_piece_over_and_over(text: &str) -> bool {
    let signs: Vec<char> = text.chars().collect();
    (1..=4).any(|piece| signs.iter().zip(signs.iter().skip(piece)).all(|(a, b)| a == b))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn alone(password: &str, own: &[&str]) -> Result<(), Weakness> {
        check_password(password, own, Beside::Nothing)
    }

    #[test]
    fn length_counts_and_composition_does_not() {
        assert_eq!(alone("moss on the sill", &[]), Ok(()));
        assert_eq!(alone("ÄÖÜäöüßéèàùûîôç", &[]), Ok(()));
        assert_eq!(alone("Tr0ub4dor&3", &[]), Err(Weakness::Short));
        assert_eq!(alone(&"moss on the sill ".repeat(20), &[]), Err(Weakness::Long));
    }

    #[test]
    fn a_shorter_one_will_do_beside_a_second_factor() {
        let beside = |password: &str| check_password(password, &["mira"], Beside::SecondFactor);
        assert_eq!(beside("moss sill"), Ok(()));
        assert_eq!(beside("mossill"), Err(Weakness::ShortBesideFactor));
        assert_eq!(beside("Password1"), Err(Weakness::Common));
        assert_eq!(beside("mira2026!"), Err(Weakness::OwnName));
    }

    #[test]
    fn what_is_tried_first_is_refused() {
        for common in [
            "PasswordPassword",
            "aaaaaaaaaaaaaaa",
            "abcabcabcabcabcabc",
            "121212121212121",
            "123456789012345",
        ] {
            assert_eq!(alone(common, &[]), Err(Weakness::Common), "{common}");
        }
    }

    #[test]
    fn the_own_name_is_no_password() {
        let own = ["mira.kessler", "Mira Kessler", "mira@example.org"];
        assert_eq!(alone("mira.kessler2026", &own), Err(Weakness::OwnName));
        assert_eq!(alone("Mira KesslerMira Kessler!", &own), Err(Weakness::OwnName));
        assert_eq!(alone("mira.kessler keeps barbs", &own), Ok(()));
    }
}
