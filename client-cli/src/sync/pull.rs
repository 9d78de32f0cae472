//! Pulling what is new, to the end, and finding out that the history is another one.

use serde::Deserialize;
use serde_json::Value;
use serde_json::value::RawValue;
use tarn_domain::streams::{Acceptance, By, Chain, EpochId, OpDigest, OpText, Received, canonical};

use super::Report;
use crate::failure::{Failure, Outcome};
use crate::problem::Problem;
use crate::remote::{Remote, Trouble};
use crate::store::{HistoryChange, Pulled, StoreError, StreamRow};
use crate::tarn::Tarn;

/// A page with more than so many ops is folded once at the end.
const BULK: usize = 1_500;
const PAGE: usize = 10_000;

#[derive(Debug, Deserialize)]
struct Page {
    epoch: EpochId,
    head: u64,
    chain: String,
    more: bool,
    ops: Vec<Wire>,
}

#[derive(Debug, Deserialize)]
struct Wire {
    seq: u64,
    op: Box<RawValue>,
    by: By,
    received: i64,
    decision: bool,
    receipt: String,
    /// If words in it were blanked: the digest of its first bytes.
    #[serde(default)]
    was: Option<String>,
    /// If it blanked words of another op: that op as it is now.
    #[serde(default)]
    blanked: Option<Box<Wire>>,
}

impl Wire {
    fn accepted(&self) -> Acceptance {
        Acceptance { by: self.by, received: Received(self.received), decision: self.decision }
    }

    fn was(&self) -> Outcome<Option<OpDigest>> {
        let odd =
            || Failure::needs_network("a pulled entry has a digest that is none; nothing of it was taken");
        self.was.as_deref().map(|was| OpDigest::of_hex(was).ok_or_else(odd)).transpose()
    }

    /// With this text, which may be laid out anew.
    fn pulled(&self, text: String) -> Outcome<Pulled> {
        let blanked = match &self.blanked {
            Some(wire) => Some(Box::new(wire.pulled(canonically(wire.op.get())?)?)),
            None => None,
        };
        let (accepted, was) = (self.accepted(), self.was()?);
        Ok(Pulled { seq: self.seq, text, accepted, receipt: self.receipt.clone(), was, blanked })
    }
}

/// How a pull ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// All is here; so many ops came, or are pending again because they did not come.
    Done(usize),
    /// The history is another one; what does not stand is pending again.
    Changed,
}

/// Pulls to the end.
///
/// # Errors
/// The server's no, that there is no server, or an answer that does not add up.
pub fn all(tarn: &mut Tarn, remote: &mut Remote, stream: &StreamRow, report: &mut Report) -> Outcome<End> {
    let mut brought = 0;
    let mut bar = None;
    loop {
        let now = super::fresh(tarn, stream)?;
        let Some(epoch) = now.epoch else { return Ok(End::Done(brought)) };
        let mut path = format!("streams/{}/ops?epoch={epoch}&after={}&limit={PAGE}", now.id, now.after);
        if now.after > 0 {
            path.push_str(&format!("&chain={}", now.chain.hex()));
        }
        let page: Page = match remote.get_as(&path) {
            Ok(page) => page,
            Err(Trouble::Problem(problem)) if problem.code() == "history-changed" => {
                let change = changed(&problem, epoch)?;
                tarn.store.write::<_, StoreError>(|work| work.change_history(&now, &change))?;
                return Ok(End::Changed);
            }
            Err(trouble) => return Err(trouble.into()),
        };
        if page.epoch != epoch {
            return Err(Failure::needs_network(
                "the server answered for another epoch than it was asked for",
            ));
        }
        let (ops, chain) = checked(&page, now.after, now.chain)?;
        let bulk = page.more || ops.len() > BULK;
        let came = tarn.store.write::<_, StoreError>(|work| work.take_in(&now, &ops, chain, bulk))?;
        brought += came.ops;
        report.pulled += came.new;
        if page.more || bar.is_some() {
            let says = format!("{}: pulling", now.name);
            let bar = bar.get_or_insert_with(|| tarn.out.bar(&says, page.head));
            bar.done(ops.last().map_or(now.after, |op| op.seq));
        }
        if !page.more {
            let lost = tarn.store.write::<_, StoreError>(|work| {
                let lost = work.pulled_all(&now, page.head)?;
                work.catch_up(&now)?;
                Ok(lost)
            })?;
            return Ok(End::Done(brought + came.lost + lost));
        }
        if came.ops == 0 {
            return Err(Failure::needs_network("the server says that there is more, but sends nothing"));
        }
    }
}

/// The ops of a page, whose numbers and chain must follow on what is here.
fn checked(page: &Page, after: u64, chain: Chain) -> Outcome<(Vec<Pulled>, Chain)> {
    let texts: Vec<String> = page.ops.iter().map(|op| op.op.get().to_owned()).collect();
    let (texts, chain) = match follow(chain, &texts, &page.ops)? {
        end if end.hex() == page.chain => (texts, end),
        _ => {
            // somebody on the way may have laid the JSON out anew
            let texts: Vec<String> = texts.iter().map(|text| canonically(text)).collect::<Outcome<_>>()?;
            let end = follow(chain, &texts, &page.ops)?;
            if end.hex() != page.chain {
                return Err(Failure::needs_network(
                    "what was pulled does not add up; nothing of it was taken",
                ));
            }
            (texts, end)
        }
    };
    let mut ops = Vec::with_capacity(texts.len());
    for (i, (wire, text)) in page.ops.iter().zip(texts).enumerate() {
        if wire.seq != after + 1 + i as u64 {
            return Err(Failure::needs_network(
                "the numbers of what was pulled have a gap; nothing of it was taken",
            ));
        }
        ops.push(wire.pulled(text)?);
    }
    Ok((ops, chain))
}

fn follow(chain: Chain, texts: &[String], ops: &[Wire]) -> Outcome<Chain> {
    let mut texts = texts.iter().zip(ops);
    texts.try_fold(chain, |chain, (text, op)| Ok(chain.then(OpText { text, was: op.was()? }, op.accepted())))
}

fn canonically(text: &str) -> Outcome<String> {
    let value = serde_json::from_str::<Value>(text);
    let value = value.map_err(|e| Failure::needs_network(format!("a pulled entry can't be read: {e}")))?;
    Ok(canonical::text(&value))
}

/// What stands of a history that is known up to `epoch`: what its line says; without a place in it, nothing.
fn changed(problem: &Problem, epoch: EpochId) -> Outcome<HistoryChange> {
    #[derive(Deserialize)]
    struct Changed {
        epoch: EpochId,
        #[serde(default)]
        line: Vec<Piece>,
    }
    #[derive(Deserialize)]
    struct Piece {
        epoch: EpochId,
        last_seq: u64,
    }
    let read: Changed = serde_json::from_value(problem.value.clone()).map_err(|e| {
        Failure::needs_network(format!("the server's history has changed, but can't be read: {e}"))
    })?;
    let common = read.line.iter().find(|piece| piece.epoch == epoch).map_or(0, |piece| piece.last_seq);
    Ok(HistoryChange { epoch: read.epoch, common })
}

#[cfg(test)]
mod tests {
    use serde_json::json;
    use uuid::Uuid;

    use super::*;

    fn epoch(n: u128) -> EpochId {
        EpochId(Uuid::from_u128(n))
    }

    #[test]
    fn an_epoch_in_the_line_stands_up_to_its_last_seq() {
        let line = json!([{ "epoch": epoch(1), "last_seq": 40 }, { "epoch": epoch(2), "last_seq": 55 }]);
        let problem =
            Problem { status: 409, value: json!({ "epoch": epoch(3), "line": line, "common": 55 }) };
        let stands = |n| changed(&problem, epoch(n)).map(|c| (c.epoch, c.common)).map_err(|f| f.says);
        assert_eq!(stands(1), Ok((epoch(3), 40)));
        assert_eq!(stands(2), Ok((epoch(3), 55)));
        assert_eq!(stands(7), Ok((epoch(3), 0)));
    }

    fn page(seqs: &[u64], chain: Chain) -> Page {
        let ops: Vec<Value> = seqs
            .iter()
            .map(|seq| json!({ "seq": seq, "op": { "a": 1 }, "by": Uuid::nil(), "received": 1, "decision": false, "receipt": "" }))
            .collect();
        let page = json!({ "epoch": epoch(1), "head": 9, "chain": chain.hex(), "more": false, "ops": ops });
        serde_json::from_str(&page.to_string()).expect("a page")
    }

    #[test]
    fn a_page_must_follow_on_what_is_here() {
        let accepted = Acceptance { by: By::of(Uuid::nil()), received: Received(1), decision: false };
        let end = Chain::EMPTY.then("{\"a\":1}", accepted).then("{\"a\":1}", accepted);
        assert!(
            checked(&page(&[1, 2], end), 0, Chain::EMPTY)
                .is_ok_and(|(ops, chain)| ops.len() == 2 && chain == end)
        );
        assert!(checked(&page(&[1, 3], end), 0, Chain::EMPTY).is_err());
        assert!(checked(&page(&[1, 2], Chain::EMPTY), 0, Chain::EMPTY).is_err());
        assert!(checked(&page(&[], Chain::EMPTY), 0, Chain::EMPTY).is_ok_and(|(ops, _)| ops.is_empty()));
    }
}
