//! The password policy: long, not a common one, and nothing about which signs it is made of (NIST SP 800-63B-4).

/// The shortest, in signs, while it is the only factor.
pub const MIN_LENGTH: usize = 15;
/// The longest, in signs: hashing must not become a way to keep the server busy.
pub const MAX_LENGTH: usize = 256;

/// Long ones that are on everybody's list (from memory; shorter ones are too short anyway).
const COMMON: &[&str] = &[
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
            Self::Long => "A password has at most 256 signs.",
            Self::Common => "This password is on lists that are tried first. Take another.",
            Self::OwnName => "This password is little more than your own name. Take another.",
        }
    }
}

/// Checks a new password against the policy; `own` are the person's names and address.
pub fn check_password(password: &str, own: &[&str]) -> Result<(), Weakness> {
    let length = password.chars().count();
    if length < MIN_LENGTH {
        return Err(Weakness::Short);
    }
    if length > MAX_LENGTH {
        return Err(Weakness::Long);
    }
    let lowered = password.to_lowercase();
    if COMMON.contains(&lowered.trim()) || is_one_piece_over_and_over(&lowered) {
        return Err(Weakness::Common);
    }
    let names = own.iter().map(|name| name.to_lowercase()).filter(|name| name.chars().count() > 1);
    let rest = names.fold(lowered, |rest, name| rest.replace(&name, ""));
    if rest.chars().count() < 8 && rest.chars().count() < length { Err(Weakness::OwnName) } else { Ok(()) }
}

fn is_one_piece_over_and_over(text: &str) -> bool {
    let signs: Vec<char> = text.chars().collect();
    (1..=4).any(|piece| signs.iter().zip(signs.iter().skip(piece)).all(|(a, b)| a == b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn length_counts_and_composition_does_not() {
        assert_eq!(check_password("moss on the sill", &[]), Ok(()));
        assert_eq!(check_password("ÄÖÜäöüßéèàùûîôç", &[]), Ok(()));
        assert_eq!(check_password("Tr0ub4dor&3", &[]), Err(Weakness::Short));
        assert_eq!(check_password(&"moss on the sill ".repeat(20), &[]), Err(Weakness::Long));
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
            assert_eq!(check_password(common, &[]), Err(Weakness::Common), "{common}");
        }
    }

    #[test]
    fn the_own_name_is_no_password() {
        let own = ["mira.kessler", "Mira Kessler", "mira@example.org"];
        assert_eq!(check_password("mira.kessler2026", &own), Err(Weakness::OwnName));
        assert_eq!(check_password("Mira KesslerMira Kessler!", &own), Err(Weakness::OwnName));
        assert_eq!(check_password("mira.kessler keeps barbs", &own), Ok(()));
    }
}
