//! Which fields of an op may name or describe a person, and how they are blanked. No fold reads them: whatever is
//! blanked, the same state comes of the same ops.

use serde_json::{Map, Value};

use super::Body;
use crate::streams::canonical;

/// What a blanked text reads. It is no empty text, since some folds ask whether anything was written.
pub const BLANKED: &str = "[blanked]";

/// The fields of each kind; what the keeper wrote in words of their own, and who fish came from.
const PERSONAL: &[(&str, &[&str])] = &[
    ("food.given", &["amount", "food"]),
    ("incident.seen", &["remark"]),
    ("job.done", &["job"]),
    ("look.done", &["remark"]),
    ("note.written", &["text"]),
    ("op.withdrawn", &["why"]),
    ("quarantine.restarted", &["why"]),
    ("sign.seen", &["sign"]),
    ("stock.came_in", &["source"]),
    ("stock.lost", &["reason"]),
];

/// The personal fields of a kind.
pub fn personal(kind: &str) -> &'static [&'static str] {
    PERSONAL.iter().find(|(of, _)| *of == kind).map_or(&[], |(_, fields)| fields)
}

/// Whether there is anything to blank. White space is nothing: that a reason is missing must not change.
fn holds_words(text: &str) -> bool {
    text != BLANKED && !text.trim().is_empty()
}

/// Blanks those of the fields that are personal and hold anything; whether there were any.
fn blank(body: &mut Map<String, Value>, fields: &[String]) -> bool {
    let kind = body.get("op").and_then(Value::as_str).unwrap_or_default();
    let mut any = false;
    for name in personal(kind).iter().filter(|name| fields.iter().any(|field| field == *name)) {
        if let Some(Value::String(text)) = body.get_mut(*name)
            && holds_words(text)
        {
            BLANKED.clone_into(text);
            any = true;
        }
    }
    any
}

/// The canonical text of an op without what these fields held; none if they held nothing, or nothing any more.
pub fn blanked(text: &str, fields: &[String]) -> Option<String> {
    let mut op: Value = serde_json::from_str(text).ok()?;
    let body = op.get_mut("body")?.as_object_mut()?;
    blank(body, fields).then(|| canonical::text(&op))
}

impl Body {
    /// The personal fields that hold something.
    pub fn personal(&self) -> Vec<(&'static str, String)> {
        let fields = personal(self.kind());
        if fields.is_empty() {
            return Vec::new();
        }
        let value = self.to_value();
        let held = |name: &&'static str| {
            value.get(*name)?.as_str().filter(|text| holds_words(text)).map(|text| (*name, text.to_owned()))
        };
        fields.iter().filter_map(held).collect()
    }

    /// The same body without what these fields held; none if they held nothing.
    pub fn blanked(&self, fields: &[String]) -> Option<Self> {
        let Value::Object(mut body) = self.to_value() else { return None };
        if !blank(&mut body, fields) {
            return None;
        }
        body.remove("op");
        Self::decode(self.kind(), body).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::{Writer, kinds};

    #[test]
    fn only_texts_of_claims_are_personal() {
        let all = kinds();
        for (kind, fields) in PERSONAL {
            let known = all.iter().find(|known| known.kind == *kind);
            let known = known.unwrap_or_else(|| panic!("there is no {kind}"));
            assert_eq!(known.written_by, Writer::Claim, "{kind}");
            for field in *fields {
                let of = &known.fields.get("properties").expect("fields")[*field]["type"];
                let text = of == "string" || of == &serde_json::json!(["string", "null"]);
                assert!(text, "{field} of {kind} is no text: {of}");
            }
        }
        assert!(PERSONAL.is_sorted(), "one place each");
    }

    #[test]
    fn what_is_blanked_is_an_op_still() {
        let text = r#"{"at":"2026-03-01T09:30:00Z","body":{"op":"note.written","text":"Ines said so"},"clock":"2026-03-01T09:30:00.123Z/0004","device":"0190a1b2-0000-7000-8000-000000000002","id":"0190a1b2-0000-7000-8000-00000000000a"}"#;
        let fields = ["text".to_owned(), "tank".to_owned()];
        let without = blanked(text, &fields).expect("there was a text");
        assert!(!without.contains("Ines") && without.contains(BLANKED), "{without}");
        let read = crate::catalogue::read_op_text(&without).expect("an op");
        assert_eq!((read.text.as_str(), read.op.body.personal()), (without.as_str(), Vec::new()));
        assert_eq!(blanked(&without, &fields), None, "once is enough");
        assert_eq!(blanked(text, &["tank".to_owned()]), None, "a tank is nobody");
    }
}
