//! The short way to read an op: one look tells that a text is canonical already, as every client writes it, and
//! then it is read as it stands. Whatever is not plainly so goes the long way, which alone says what is wrong.
//! Must not know what a body means.

use std::fmt;
use std::marker::PhantomData;

use serde::de::value::BorrowedStrDeserializer;
use serde::de::{DeserializeOwned, DeserializeSeed, Deserializer, IgnoredAny, MapAccess, Visitor};
use serde::forward_to_deserialize_any;

use super::{At, Clock, DeviceId, Envelope, LARGEST_OP, OpId, parse_uuid};

/// Deeper texts go the long way.
const DEEPEST: usize = 16;
/// Longer integers go the long way: all of fifteen digits are within ±2^53.
const MOST_DIGITS: usize = 15;

/// Reads an op from a text that is its own RFC 8785 text. None: look closer.
pub fn read_plain<B>(text: &str, decode: impl FnOnce(&str, &str) -> Option<B>) -> Option<Envelope<B>> {
    if text.len() > LARGEST_OP {
        return None;
    }
    // The names of an op stand in one order, and all but the body is of one length.
    let mut cut = Cut(text);
    let at: At = cut.after("{\"at\":\"", 20)?.parse().ok()?;
    let rest = cut.0.strip_prefix("\",\"body\":")?;
    let (body, tail) = rest.split_at_checked(rest.len().checked_sub(TAIL)?)?;
    let mut cut = Cut(tail);
    let clock: Clock = cut.after(",\"clock\":\"", 29)?.parse().ok()?;
    let device = DeviceId(parse_uuid(cut.after("\",\"device\":\"", 36)?)?);
    let id = OpId(parse_uuid(cut.after("\",\"id\":\"", 36)?)?);
    if cut.0 != "\"}" || id.0.get_version_num() != 7 || at > clock.at() {
        return None;
    }
    let mut look = Look::at(body);
    look.value(0)?;
    if look.at != body.len() {
        return None;
    }
    Some(Envelope { id, device, clock, at, body: decode(look.op?, body)? })
}

/// The length of all that follows the body.
const TAIL: usize = ",\"clock\":\"\",\"device\":\"\",\"id\":\"\"}".len() + 29 + 36 + 36;

/// What is left of a text.
struct Cut<'a>(&'a str);

impl<'a> Cut<'a> {
    /// So many bytes after these words.
    fn after(&mut self, words: &str, bytes: usize) -> Option<&'a str> {
        let (now, later) = self.0.strip_prefix(words)?.split_at_checked(bytes)?;
        self.0 = later;
        Some(now)
    }
}

/// Reads the fields of a body from its text, all but `op`. None: look closer.
pub fn read_plain_fields<T: DeserializeOwned>(body: &str) -> Option<T> {
    let mut text = serde_json::Deserializer::from_str(body);
    let read = T::deserialize(Fields(&mut text)).ok()?;
    text.end().ok()?;
    Some(read)
}

/// Whether a text is RFC 8785 text without anything in it that needs a second thought: names in ASCII, no escape in
/// a name and only the short ones in a string, integers well within 2^53. False proves nothing.
pub fn is_plain(text: &str) -> bool {
    let mut look = Look::at(text);
    look.value(0).is_some() && look.at == text.len()
}

struct Look<'a> {
    whole: &'a str,
    text: &'a [u8],
    at: usize,
    /// The text of the outermost object's field `op`.
    op: Option<&'a str>,
}

impl<'a> Look<'a> {
    fn at(text: &'a str) -> Self {
        Self { whole: text, text: text.as_bytes(), at: 0, op: None }
    }

    fn next(&mut self) -> Option<u8> {
        let byte = *self.text.get(self.at)?;
        self.at += 1;
        Some(byte)
    }

    fn is_next(&mut self, byte: u8) -> bool {
        let is = self.text.get(self.at) == Some(&byte);
        self.at += usize::from(is);
        is
    }

    fn value(&mut self, deep: usize) -> Option<()> {
        if deep > DEEPEST {
            return None;
        }
        match self.next()? {
            b'{' => self.object(deep),
            b'[' => self.array(deep),
            b'"' => self.string(),
            b't' => self.word(b"rue"),
            b'f' => self.word(b"alse"),
            b'n' => self.word(b"ull"),
            b'0' => self.number_ends(),
            b'-' => match self.next()? {
                b'1'..=b'9' => self.digits(),
                _ => None,
            },
            b'1'..=b'9' => self.digits(),
            _ => None,
        }
    }

    fn object(&mut self, deep: usize) -> Option<()> {
        if self.is_next(b'}') {
            return Some(());
        }
        // Rising names also mean that none is there twice. An empty one is not worth a thought.
        let mut last: &[u8] = b"";
        loop {
            let name = self.name()?;
            if name <= last || !self.is_next(b':') {
                return None;
            }
            last = name;
            let from = self.at;
            self.value(deep + 1)?;
            if deep == 0 && name == b"op" {
                self.op = self.whole.get(from..self.at)?.strip_prefix('"')?.strip_suffix('"');
            }
            match self.next()? {
                b',' => {}
                b'}' => return Some(()),
                _ => return None,
            }
        }
    }

    fn name(&mut self) -> Option<&'a [u8]> {
        if !self.is_next(b'"') {
            return None;
        }
        let rest = &self.text[self.at..];
        let end = rest.iter().position(|b| !matches!(b, b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'_'))?;
        self.at += end + 1;
        (rest[end] == b'"').then(|| &rest[..end])
    }

    fn array(&mut self, deep: usize) -> Option<()> {
        if self.is_next(b']') {
            return Some(());
        }
        loop {
            self.value(deep + 1)?;
            match self.next()? {
                b',' => {}
                b']' => return Some(()),
                _ => return None,
            }
        }
    }

    fn string(&mut self) -> Option<()> {
        loop {
            match self.next()? {
                b'"' => return Some(()),
                b'\\' => {
                    matches!(self.next()?, b'"' | b'\\' | b'b' | b'f' | b'n' | b'r' | b't').then_some(())?;
                }
                0..0x20 => return None,
                _ => {}
            }
        }
    }

    fn digits(&mut self) -> Option<()> {
        let rest = &self.text[self.at..];
        let more = rest.iter().take_while(|b| b.is_ascii_digit()).count();
        self.at += more;
        if more < MOST_DIGITS { self.number_ends() } else { None }
    }

    /// No fraction, no exponent, no further digit.
    fn number_ends(&self) -> Option<()> {
        let next = self.text.get(self.at).copied().unwrap_or(b' ');
        (!matches!(next, b'0'..=b'9' | b'.' | b'e' | b'E')).then_some(())
    }

    fn word(&mut self, rest: &[u8]) -> Option<()> {
        let is = self.text[self.at..].starts_with(rest);
        self.at += rest.len();
        is.then_some(())
    }
}

/// An object of JSON without its field `op`.
struct Fields<D>(D);

impl<'de, D: Deserializer<'de>> Deserializer<'de> for Fields<D> {
    type Error = D::Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, D::Error> {
        self.0.deserialize_map(Visit(visitor, PhantomData))
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit unit_struct
        newtype_struct seq tuple tuple_struct map struct enum identifier ignored_any
    }
}

struct Visit<'de, V>(V, PhantomData<&'de ()>);

impl<'de, V: Visitor<'de>> Visitor<'de> for Visit<'de, V> {
    type Value = V::Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.expecting(f)
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<V::Value, A::Error> {
        self.0.visit_map(WithoutOp(map))
    }
}

struct WithoutOp<A>(A);

impl<'de, A: MapAccess<'de>> MapAccess<'de> for WithoutOp<A> {
    type Error = A::Error;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, A::Error> {
        while let Some(name) = self.0.next_key::<&'de str>()? {
            if name != "op" {
                return seed.deserialize(BorrowedStrDeserializer::new(name)).map(Some);
            }
            self.0.next_value::<IgnoredAny>()?;
        }
        Ok(None)
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, A::Error> {
        self.0.next_value_seed(seed)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::{Map, Value};

    use super::*;
    use crate::streams::canonical;

    #[test]
    fn what_is_not_canonical_is_not_plain() {
        for plain in ["{}", "[]", "{\"a\":1,\"b\":[true,null,\"x\\n\"]}", "-1", "999999999999999", "\"ä\""] {
            assert!(is_plain(plain), "{plain}");
        }
        for other in [
            "",
            " {}",
            "{} ",
            "{ }",
            "{\"b\":1,\"a\":1}",
            "{\"a\":1,\"a\":1}",
            "{\"a\":1,}",
            "[1,]",
            "[1",
            "01",
            "-0",
            "-",
            "1.0",
            "1e3",
            "1000000000000000",
            "9007199254740993",
            "\"\\/\"",
            "\"\\u0041\"",
            "\"\n\"",
            "{\"a\" :1}",
            "{\"\\u0061\":1}",
            "nul",
            "truefalse",
            "{\"a\":1}{}",
            "{a:1}",
            "\"",
            "\"\\",
        ] {
            assert!(!is_plain(other), "{other}");
        }
        assert!(!is_plain(&"[".repeat(100_000)));
    }

    fn values() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            any::<i64>().prop_map(Value::from),
            any::<f64>().prop_map(Value::from),
            "\\PC{0,6}".prop_map(Value::from),
            ".{0,6}".prop_map(Value::from),
        ];
        leaf.prop_recursive(4, 24, 4, |inner| {
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..4).prop_map(Value::from),
                prop::collection::vec(("[a-zé_\"]{0,3}", inner), 0..4)
                    .prop_map(|fields| Value::Object(fields.into_iter().collect::<Map<_, _>>())),
            ]
        })
    }

    proptest! {
        #[test]
        fn what_is_plain_is_its_own_canonical_text(value in values(), space in 0usize..40) {
            let mut text = serde_json::to_string(&value).expect("a value has a text");
            for text in [canonical::text(&value), text.clone(), { text.insert(text.floor_char_boundary(space), ' '); text }] {
                if is_plain(&text) {
                    let read: Value = serde_json::from_str(&text).expect("plain text is JSON");
                    prop_assert_eq!(canonical::whole_numbers(&read), Ok(()));
                    prop_assert_eq!(canonical::text(&read), text);
                }
            }
        }

        #[test]
        fn a_look_never_panics(text in "[\\[\\]{}\",:0-9a-z\\\\ .-]{0,24}") {
            if is_plain(&text) {
                let read: Value = serde_json::from_str(&text).expect("plain text is JSON");
                prop_assert_eq!(canonical::text(&read), text);
            }
        }
    }
}
