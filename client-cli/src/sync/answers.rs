//! What the server's answer to a push means for each op. Pure.

use serde::Deserialize;
use serde_json::Value;
use tarn_domain::streams::{EpochId, OpId, canonical};

use crate::problem::code_of;
use crate::store::{Answer, Answered, Outgoing};

/// The answer to a push.
#[derive(Debug, Deserialize)]
pub struct PushAnswer {
    /// The epoch in which it was judged.
    pub epoch: EpochId,
    /// One result per op.
    pub results: Vec<PushResult>,
}

/// The answer to one op.
#[derive(Debug, Deserialize)]
pub struct PushResult {
    id: Option<OpId>,
    index: Option<usize>,
    seq: Option<u64>,
    problem: Option<Value>,
    op: Option<Value>,
}

/// Judges the results of a push, op by op. An op without a result stays pending.
pub fn judge(sent: &[Outgoing], answer: PushAnswer) -> Vec<Answered> {
    let mut judged = Vec::with_capacity(sent.len());
    for result in answer.results {
        let by_index = result.index.and_then(|i| sent.get(i)).map(|op| op.id);
        let Some(id) = result.id.or(by_index).filter(|id| sent.iter().any(|op| op.id == *id)) else {
            continue;
        };
        let answer = match (result.problem, result.seq, result.op) {
            (None, Some(seq), _) => Answer::Seq(seq),
            (None, None, _) => continue,
            (Some(problem), _, op) => no(problem, op, sent.iter().any(|o| o.id == id && o.receipt.is_some())),
        };
        judged.push(Answered { id, answer });
    }
    judged
}

fn no(problem: Value, stored: Option<Value>, has_receipt: bool) -> Answer {
    let status = problem["status"].as_u64().unwrap_or(0);
    match (code_of(&problem), stored) {
        ("id-taken", Some(op)) if op.is_object() => Answer::Taken(canonical::text(&op)),
        ("missing-reference", _) => Answer::Waits(problem),
        ("op-unknown", _) => Answer::Unknown(problem),
        ("receipt-forged", _) if has_receipt => Answer::WithoutReceipt(problem),
        _ if status == 429 || status >= 500 => Answer::Later,
        _ => Answer::No(problem),
    }
}

/// A push body of these ops.
pub fn body(ops: &[Outgoing]) -> String {
    let mut text = String::with_capacity(ops.iter().map(|op| op.text.len() + 16).sum::<usize>() + 16);
    text.push_str("{\"ops\":[");
    for (i, op) in ops.iter().enumerate() {
        if i > 0 {
            text.push(',');
        }
        text.push_str("{\"op\":");
        text.push_str(&op.text);
        if let Some(r) = &op.receipt {
            text.push_str(",\"receipt\":");
            text.push_str(&r.to_value().to_string());
        }
        text.push('}');
    }
    text.push_str("]}");
    text
}

#[cfg(test)]
mod tests {
    use serde_json::json;
    use uuid::Uuid;

    use super::*;

    fn sent(n: u128) -> Outgoing {
        Outgoing { id: OpId(Uuid::from_u128(n)), text: "{}".into(), receipt: None }
    }

    fn judged(results: Value) -> Vec<(u128, String)> {
        let answer = json!({ "epoch": Uuid::from_u128(9), "head": 1, "results": results });
        let answer = serde_json::from_value(answer).expect("an answer");
        let word = |answer: Answer| match answer {
            Answer::Seq(n) => format!("seq {n}"),
            Answer::Taken(text) => format!("taken {text}"),
            Answer::Waits(_) => "waits".into(),
            Answer::Unknown(_) => "unknown".into(),
            Answer::Later => "later".into(),
            Answer::WithoutReceipt(_) => "without receipt".into(),
            Answer::No(_) => "no".into(),
        };
        let judged = judge(&[sent(1), sent(2), sent(3)], answer);
        judged.into_iter().map(|a| (a.id.0.as_u128(), word(a.answer))).collect()
    }

    fn problem(code: &str, status: u16) -> Value {
        json!({ "type": format!("/problems/{code}"), "title": code, "status": status })
    }

    #[test]
    fn each_op_has_its_own_answer() {
        let id = |n| Uuid::from_u128(n);
        let results = json!([
            { "id": id(1), "seq": 7 },
            { "id": id(2), "problem": problem("id-taken", 409), "op": { "b": 1, "a": 2 } },
            { "index": 2, "problem": problem("op-malformed", 422) },
            { "id": id(8), "seq": 9 },
        ]);
        let expected = [(1, "seq 7"), (2, "taken {\"a\":2,\"b\":1}"), (3, "no")];
        assert_eq!(judged(results), expected.map(|(n, text)| (n, text.to_owned())));
    }

    #[test]
    fn what_may_come_right_is_not_refused() {
        let of = |code, status| {
            judged(json!([{ "id": Uuid::from_u128(1), "problem": problem(code, status) }]))[0].1.clone()
        };
        assert_eq!(of("missing-reference", 409), "waits");
        assert_eq!(of("op-unknown", 422), "unknown");
        assert_eq!(of("quota", 429), "later");
        assert_eq!(of("busy", 503), "later");
        assert_eq!(of("id-taken", 409), "no");
        assert_eq!(of("op-relied-on", 409), "no");
        assert_eq!(of("receipt-forged", 403), "no");
    }

    #[test]
    fn a_push_carries_texts_as_they_are() {
        assert_eq!(body(&[sent(1), sent(2)]), "{\"ops\":[{\"op\":{}},{\"op\":{}}]}");
    }
}
