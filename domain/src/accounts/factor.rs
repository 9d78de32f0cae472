//! The second factor: codes that change with the time (RFC 6238: HMAC-SHA-1, 30 seconds, six digits), and recovery codes
//! for when the phone is lost.
//!
//! A code is good in its own step and one to each side, since clocks differ, and never again: nor is an older one.

use hmac::{Hmac, KeyInit, Mac};
use sha1::Sha1;

/// How long a secret is, in bytes: what RFC 4226 asks for.
pub const SECRET_BYTES: usize = 20;
/// How many recovery codes there are in a set.
pub const RECOVERY_CODES: usize = 10;
/// How long the random part of a recovery code is, in bytes.
pub const RECOVERY_BYTES: usize = 10;
const STEP_MS: i64 = 30_000;
const DIGITS: usize = 6;
/// How many steps a clock may be off, each way.
const DRIFT: i64 = 1;
/// RFC 4648, 6.
const ALPHABET: &[u8; 32] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";

/// What somebody typed as a code.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Code {
    /// Six digits.
    Timed(u32),
    /// A recovery code, without the signs that only make it readable.
    Recovery(String),
}

impl Code {
    /// Takes what was typed; spaces, hyphens and capitals don't count.
    pub fn parse(text: &str) -> Option<Self> {
        let plain: String = text.chars().filter(|c| !c.is_whitespace() && *c != '-').take(64).collect();
        let plain = plain.to_ascii_uppercase();
        if plain.len() == DIGITS && plain.bytes().all(|b| b.is_ascii_digit()) {
            return plain.parse().ok().map(Self::Timed);
        }
        let whole = plain.len() == RECOVERY_BYTES * 8 / 5;
        (whole && plain.bytes().all(|b| ALPHABET.contains(&b))).then_some(Self::Recovery(plain))
    }
}

/// The step for which a code is good now, if it is: later than the step of the last code that was taken.
pub fn good_step(secret: &[u8], code: u32, now_ms: i64, last: Option<i64>) -> Option<i64> {
    let now = now_ms.div_euclid(STEP_MS);
    let unused = |step: &i64| last.is_none_or(|last| *step > last);
    (now - DRIFT..=now + DRIFT).filter(unused).find(|step| code_of(secret, *step, DIGITS) == code)
}

/// RFC 4226, 5.3: the last digits of 31 bits, taken where the last four bits say.
fn code_of(secret: &[u8], step: i64, digits: usize) -> u32 {
    let mut mac = Hmac::<Sha1>::new_from_slice(secret).expect("any length of key will do");
    mac.update(&step.to_be_bytes());
    let sum: [u8; 20] = mac.finalize().into_bytes().into();
    let from = usize::from(sum[19] & 0x0f);
    let bits = u32::from_be_bytes([sum[from], sum[from + 1], sum[from + 2], sum[from + 3]]) & 0x7fff_ffff;
    bits % 10_u32.pow(u32::try_from(digits).unwrap_or(9))
}

/// Bytes in the letters and digits of RFC 4648, 6, without what fills up the end.
pub fn base32(bytes: &[u8]) -> String {
    let bit = |i: usize| bytes.get(i / 8).map_or(0, |byte| byte >> (7 - i % 8) & 1);
    let sign = |at: usize| (0..5).fold(0_u8, |value, i| value << 1 | bit(at * 5 + i));
    (0..(bytes.len() * 8).div_ceil(5)).map(|at| char::from(ALPHABET[usize::from(sign(at))])).collect()
}

/// A secret as it is typed into a phone that can't read pictures: four signs at a time.
pub fn written_secret(secret: &[u8]) -> String {
    in_fours(&base32(secret), " ")
}

/// A recovery code as it is written down.
pub fn recovery_code(random: &[u8; RECOVERY_BYTES]) -> String {
    in_fours(&base32(random), "-")
}

fn in_fours(signs: &str, between: &str) -> String {
    let signs: Vec<char> = signs.chars().collect();
    signs.chunks(4).map(|four| four.iter().collect::<String>()).collect::<Vec<_>>().join(between)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SECRET: &[u8] = b"12345678901234567890";

    /// RFC 6238, appendix B, the rows of SHA-1: seconds and eight digits.
    #[test]
    fn codes_are_those_of_the_standard() {
        for (second, code) in [
            (59, 94_287_082),
            (1_111_111_109, 7_081_804),
            (1_111_111_111, 14_050_471),
            (1_234_567_890, 89_005_924),
            (2_000_000_000, 69_279_037),
            (20_000_000_000_i64, 65_353_130),
        ] {
            assert_eq!(code_of(SECRET, second * 1000 / STEP_MS, 8), code, "{second}");
            assert_eq!(code_of(SECRET, second * 1000 / STEP_MS, DIGITS), code % 1_000_000, "{second}");
        }
    }

    /// RFC 4226, appendix D: the first counters, six digits.
    #[test]
    fn counters_are_those_of_the_standard() {
        for (step, code) in (0..).zip([755_224, 287_082, 359_152, 969_429, 338_314]) {
            assert_eq!(code_of(SECRET, step, DIGITS), code, "{step}");
        }
    }

    /// RFC 4648, 10, without padding.
    #[test]
    fn signs_are_those_of_the_standard() {
        for (plain, signs) in [
            ("", ""),
            ("f", "MY"),
            ("fo", "MZXQ"),
            ("foo", "MZXW6"),
            ("foob", "MZXW6YQ"),
            ("fooba", "MZXW6YTB"),
            ("foobar", "MZXW6YTBOI"),
        ] {
            assert_eq!(base32(plain.as_bytes()), signs);
        }
    }

    #[test]
    fn a_code_is_good_once_and_one_step_off_each_way() {
        let code = code_of(SECRET, 100, DIGITS);
        let at = |step: i64, last: Option<i64>| good_step(SECRET, code, step * STEP_MS + 7, last);
        assert_eq!(
            [98, 99, 100, 101, 102].map(|step| at(step, None)),
            [None, Some(100), Some(100), Some(100), None]
        );
        assert_eq!(at(100, Some(99)), Some(100));
        assert_eq!(at(100, Some(100)), None, "replayed");
        assert_eq!(at(100, Some(101)), None, "older than one that was taken");
        assert_eq!(good_step(SECRET, code + 1, 100 * STEP_MS, None), None);
    }

    #[test]
    fn what_is_typed_is_read_generously() {
        assert_eq!(Code::parse(" 012 345 "), Some(Code::Timed(12_345)));
        let written = recovery_code(&[7; RECOVERY_BYTES]);
        assert_eq!(written.len(), 19, "{written}");
        let read = Code::parse(&written.to_lowercase());
        assert_eq!(read, Some(Code::Recovery(written.replace('-', ""))));
        for wrong in ["", "12345", "1234567", "ABCD-EFGH", "１２３４５６", "ABCD-EFGH-IJKL-MN0P"] {
            assert_eq!(Code::parse(wrong), None, "{wrong}");
        }
        assert_eq!(written_secret(SECRET), "GEZD GNBV GY3T QOJQ GEZD GNBV GY3T QOJQ");
    }
}
