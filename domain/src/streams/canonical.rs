//! RFC 8785 text, and what is put under a digest. Must not know what ops mean.

use std::fmt;

use serde_json::Value;
use sha2::{Digest, Sha256};

use super::{By, Received};

/// The greatest integer that every JSON reader holds exactly (RFC 8785, section 3.2.2.3; RFC 7493).
pub const GREATEST_INTEGER: i64 = 1 << 53;

/// The RFC 8785 text of a value. Written here and not by the general library, which takes ten times as long:
/// every op that is pushed goes through it.
pub fn text(value: &Value) -> String {
    let mut out = String::with_capacity(400);
    write(&mut out, value);
    out
}

fn write(out: &mut String, value: &Value) {
    match value {
        Value::Null => out.push_str("null"),
        Value::Bool(true) => out.push_str("true"),
        Value::Bool(false) => out.push_str("false"),
        Value::Number(n) => {
            match n.as_i64().filter(|i| i.unsigned_abs() <= GREATEST_INTEGER.unsigned_abs()) {
                Some(whole) => drop(fmt::Write::write_fmt(out, format_args!("{whole}"))),
                // Refused before anything is stored; the library knows how a fraction is written.
                None => out.push_str(&serde_json_canonicalizer::to_string(value).unwrap_or_default()),
            }
        }
        Value::String(text) => write_text(out, text),
        Value::Array(items) => {
            out.push('[');
            for (i, item) in items.iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                write(out, item);
            }
            out.push(']');
        }
        Value::Object(fields) => {
            let mut fields: Vec<(&String, &Value)> = fields.iter().collect();
            // By UTF-16 code units (section 3.2.3), which for ASCII is the order of bytes.
            if fields.iter().all(|(name, _)| name.is_ascii()) {
                fields.sort_unstable_by_key(|(name, _)| *name);
            } else {
                fields.sort_unstable_by(|a, b| a.0.encode_utf16().cmp(b.0.encode_utf16()));
            }
            out.push('{');
            for (i, (name, field)) in fields.into_iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                write_text(out, name);
                out.push(':');
                write(out, field);
            }
            out.push('}');
        }
    }
}

/// A string with the escapes of section 3.2.2.2 and no others.
fn write_text(out: &mut String, text: &str) {
    out.push('"');
    let mut plain = 0;
    for (i, byte) in text.bytes().enumerate() {
        let escape = match byte {
            b'"' => "\\\"",
            b'\\' => "\\\\",
            0x08 => "\\b",
            b'\t' => "\\t",
            b'\n' => "\\n",
            0x0c => "\\f",
            b'\r' => "\\r",
            0..0x20 => "",
            _ => continue,
        };
        out.push_str(&text[plain..i]);
        plain = i + 1;
        if escape.is_empty() {
            out.push_str("\\u00");
            out.push_str(&hex(&[byte]));
        } else {
            out.push_str(escape);
        }
    }
    out.push_str(&text[plain..]);
    out.push('"');
}

/// The path of the first number that is no integer within ±2^53, as a JSON Pointer.
pub fn whole_numbers(value: &Value) -> Result<(), String> {
    match value {
        Value::Number(n) => match n.as_i64() {
            Some(i) if i.unsigned_abs() <= GREATEST_INTEGER.unsigned_abs() => Ok(()),
            _ => Err(String::new()),
        },
        Value::Array(items) => items
            .iter()
            .enumerate()
            .try_for_each(|(i, item)| whole_numbers(item).map_err(|rest| format!("/{i}{rest}"))),
        Value::Object(fields) => fields.iter().try_for_each(|(name, field)| {
            whole_numbers(field)
                .map_err(|rest| format!("/{}{rest}", name.replace('~', "~0").replace('/', "~1")))
        }),
        _ => Ok(()),
    }
}

/// The path of the first text that holds U+0000, as a JSON Pointer: not every database can keep it.
pub fn without_nul(value: &Value) -> Result<(), String> {
    match value {
        Value::String(text) if text.contains('\0') => Err(String::new()),
        Value::Array(items) => items
            .iter()
            .enumerate()
            .try_for_each(|(i, item)| without_nul(item).map_err(|rest| format!("/{i}{rest}"))),
        Value::Object(fields) => fields
            .iter()
            .try_for_each(|(name, field)| without_nul(field).map_err(|rest| format!("/{name}{rest}"))),
        _ => Ok(()),
    }
}

/// A SHA-256 digest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Chain(pub [u8; 32]);

impl Chain {
    /// The chain of a stream without ops.
    pub const EMPTY: Self = Self([0; 32]);

    /// The chain after one more op: SHA-256 of the chain so far, the op's own digest and its acceptance (account,
    /// milliseconds as a big-endian integer of 64 bits, a byte 1 for a decision). Without the acceptance nobody would
    /// learn of it where a disk is rolled back and the same op is accepted again, later, under the same number.
    ///
    /// Of an op whose words were blanked it is the digest of its first bytes: what everybody computed before stays true.
    pub fn then<'a>(self, op: impl Into<OpText<'a>>, accepted: Acceptance) -> Self {
        let mut hash = Sha256::new();
        hash.update(self.0);
        hash.update(op.into().digest().0);
        hash.update(accepted.by.id().as_bytes());
        hash.update(accepted.received.0.to_be_bytes());
        hash.update([u8::from(accepted.decision)]);
        Self(hash.finalize().into())
    }

    /// Lower-case hex.
    pub fn hex(self) -> String {
        hex(&self.0)
    }

    /// Reads lower-case hex.
    pub fn of_hex(text: &str) -> Option<Self> {
        unhex(text).map(Self)
    }

    /// Reads the stored bytes.
    pub fn of_bytes(bytes: &[u8]) -> Option<Self> {
        bytes.try_into().ok().map(Self)
    }
}

/// The SHA-256 digest of an op's canonical text as it was first accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct OpDigest(pub [u8; 32]);

impl OpDigest {
    /// Of a text.
    pub fn of(text: &str) -> Self {
        Self(Sha256::digest(text.as_bytes()).into())
    }

    /// Lower-case hex.
    pub fn hex(self) -> String {
        hex(&self.0)
    }

    /// Reads lower-case hex.
    pub fn of_hex(text: &str) -> Option<Self> {
        unhex(text).map(Self)
    }

    /// Reads the stored bytes.
    pub fn of_bytes(bytes: &[u8]) -> Option<Self> {
        bytes.try_into().ok().map(Self)
    }
}

/// An op's canonical text as it is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OpText<'a> {
    /// The text.
    pub text: &'a str,
    /// If words in it were blanked: the digest of what it was before.
    pub was: Option<OpDigest>,
}

impl OpText<'_> {
    /// The digest of its first bytes.
    pub fn digest(self) -> OpDigest {
        self.was.unwrap_or_else(|| OpDigest::of(self.text))
    }
}

impl<'a> From<&'a str> for OpText<'a> {
    fn from(text: &'a str) -> Self {
        Self { text, was: None }
    }
}

impl<'a> From<&'a String> for OpText<'a> {
    fn from(text: &'a String) -> Self {
        Self { text, was: None }
    }
}

/// What a receipt vouches for besides the op's text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Acceptance {
    /// Who pushed it.
    pub by: By,
    /// When it was accepted.
    pub received: Received,
    /// Whether the server itself wrote it.
    pub decision: bool,
}

/// Lower-case hex of bytes.
pub fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let mut text = String::with_capacity(bytes.len() * 2);
    for b in bytes {
        text.push(char::from(DIGITS[usize::from(b >> 4)]));
        text.push(char::from(DIGITS[usize::from(b & 15)]));
    }
    text
}

fn unhex<const N: usize>(text: &str) -> Option<[u8; N]> {
    let digit = |b: u8| match b {
        b'0'..=b'9' => Some(b - b'0'),
        b'a'..=b'f' => Some(b - b'a' + 10),
        _ => None,
    };
    let text = text.as_bytes();
    if text.len() != N * 2 {
        return None;
    }
    let mut bytes = [0; N];
    for (byte, pair) in bytes.iter_mut().zip(text.chunks_exact(2)) {
        *byte = digit(pair[0])? << 4 | digit(pair[1])?;
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use serde_json::json;
    use uuid::Uuid;

    use super::*;
    use crate::streams::AccountId;

    /// RFC 8785, section 3.2.3: keys are sorted by UTF-16 code units (the example of that section).
    #[test]
    fn keys_sort_by_utf_16_code_units() {
        let value = json!({
            "\u{20ac}": "Euro Sign", "\r": "Carriage Return", "\u{fb33}": "Hebrew Letter Dalet With Dagesh",
            "1": "One", "\u{1f600}": "Emoji: Grinning Face", "\u{80}": "Control", "\u{f6}": "Latin Small Letter O With Diaeresis"
        });
        let text = text(&value);
        let order = ["Carriage Return", "One", "Control", "Latin Small", "Euro Sign", "Emoji", "Hebrew"];
        let places: Vec<usize> = order.iter().map(|name| text.find(name).expect("there")).collect();
        assert!(places.is_sorted(), "{text}");
    }

    #[test]
    fn a_fraction_is_named_by_its_path() {
        assert_eq!(whole_numbers(&json!({"a": [1, {"b/c": 1.5}]})), Err("/a/1/b~1c".into()));
        assert_eq!(whole_numbers(&json!({"n": 9_007_199_254_740_992i64})), Ok(()));
        assert!(whole_numbers(&json!({"n": 9_007_199_254_740_993i64})).is_err());
        assert!(whole_numbers(&json!({"n": u64::MAX})).is_err());
        assert_eq!(without_nul(&json!({"a": ["x", {"b": "y\u{0}"}]})), Err("/a/1/b".into()));
        assert!(whole_numbers(&json!({"n": i64::MIN})).is_err());
    }

    /// FIPS 180-4's "abc" (from memory: ba7816bf…15ad) is what the op digest inside the chain rests on.
    #[test]
    fn the_chain_is_made_of_sha_256() {
        assert_eq!(
            hex(&Sha256::digest(b"abc")),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        let accepted =
            Acceptance { by: AccountId(Uuid::from_u128(2)).into(), received: Received(7), decision: false };
        let one = Chain::EMPTY.then("{}", accepted);
        assert_ne!(one, Chain::EMPTY.then("{ }", accepted));
        assert_ne!(one, Chain::EMPTY.then("{}", Acceptance { received: Received(8), ..accepted }));
        assert_ne!(one, Chain::EMPTY.then("{}", Acceptance { decision: true, ..accepted }));
        assert_eq!(Chain::of_hex(&one.hex()), Some(one));
        assert_eq!(Chain::of_hex(&one.hex().to_uppercase()), None);
    }
}
