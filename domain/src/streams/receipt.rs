//! What the server vouches for: that it accepted an op, and when; that an account wrote one. Must not know what ops mean.

use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;

use super::canonical::hex;
use super::{Acceptance, AccountId, OpText, StreamId};

/// The receipt of an accepted op: HMAC-SHA-256 (RFC 2104) cut to 16 bytes, in lower-case hex.
/// It lets the op come back after a restore with its first acceptance. That of an op whose words were blanked vouches for
/// both what it reads now and the digest of what it was: so nobody else can make one op pass for another's remains.
pub fn receipt<'a>(key: &[u8], stream: StreamId, op: impl Into<OpText<'a>>, accepted: Acceptance) -> String {
    let OpText { text, was } = op.into();
    let mut mac = Hmac::<Sha256>::new_from_slice(key).expect("HMAC takes a key of any length");
    mac.update(stream.0.as_bytes());
    mac.update(accepted.by.id().as_bytes());
    mac.update(&accepted.received.0.to_be_bytes());
    mac.update(&[u8::from(accepted.decision) | if was.is_some() { 2 } else { 0 }]);
    if let Some(was) = was {
        mac.update(&was.0);
    }
    mac.update(text.as_bytes());
    hex(&mac.finalize().into_bytes()[..16])
}

/// Whether a receipt is the server's own; takes the same time whichever byte differs.
pub fn receipt_holds<'a>(
    key: &[u8],
    stream: StreamId,
    op: impl Into<OpText<'a>>,
    accepted: Acceptance,
    receipt_text: &str,
) -> bool {
    same(&receipt(key, stream, op, accepted), receipt_text)
}

/// The server's word that an account wrote an op on a device of its own, without having accepted it: HMAC-SHA-256 as in
/// a receipt, with a mark that no receipt has.
pub fn voucher(key: &[u8], stream: StreamId, op: &str, writer: AccountId) -> String {
    let mut mac = Hmac::<Sha256>::new_from_slice(key).expect("HMAC takes a key of any length");
    mac.update(stream.0.as_bytes());
    mac.update(writer.0.as_bytes());
    mac.update(&0i64.to_be_bytes());
    mac.update(&[4]);
    mac.update(op.as_bytes());
    hex(&mac.finalize().into_bytes()[..16])
}

/// Whether such a word is the server's own; takes the same time whichever byte differs.
pub fn voucher_holds(key: &[u8], stream: StreamId, op: &str, writer: AccountId, word: &str) -> bool {
    same(&voucher(key, stream, op, writer), word)
}

fn same(ours: &str, theirs: &str) -> bool {
    let (ours, theirs) = (ours.as_bytes(), theirs.as_bytes());
    ours.len() == theirs.len() && ours.iter().zip(theirs).fold(0, |diff, (a, b)| diff | (a ^ b)) == 0
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::streams::{Chain, OpDigest, Received};

    #[test]
    fn a_receipt_holds_for_nothing_but_what_it_was_made_for() {
        let (stream, by) = (StreamId(Uuid::from_u128(1)), AccountId(Uuid::from_u128(2)).into());
        let accepted = Acceptance { by, received: Received(7), decision: false };
        let mac = receipt(b"key", stream, "{}", accepted);
        assert_eq!(mac.len(), 32);
        assert!(receipt_holds(b"key", stream, "{}", accepted, &mac));
        assert!(!receipt_holds(b"yek", stream, "{}", accepted, &mac));
        assert!(!receipt_holds(b"key", stream, "{ }", accepted, &mac));
        assert!(!receipt_holds(b"key", stream, "{}", Acceptance { decision: true, ..accepted }, &mac));
        assert!(!receipt_holds(b"key", stream, "{}", Acceptance { received: Received(8), ..accepted }, &mac));
        assert!(!receipt_holds(b"key", stream, "{}", accepted, &mac[..30]));
    }

    #[test]
    fn a_voucher_is_no_receipt_and_holds_for_one_writer() {
        let (stream, writer) = (StreamId(Uuid::from_u128(1)), AccountId(Uuid::from_u128(2)));
        let word = voucher(b"key", stream, "{}", writer);
        assert!(voucher_holds(b"key", stream, "{}", writer, &word));
        assert!(!voucher_holds(b"key", stream, "{ }", writer, &word));
        assert!(!voucher_holds(b"key", StreamId(Uuid::from_u128(3)), "{}", writer, &word));
        assert!(!voucher_holds(b"key", stream, "{}", AccountId(Uuid::from_u128(3)), &word));
        let accepted = Acceptance { by: writer.into(), received: Received(0), decision: false };
        assert!(!receipt_holds(b"key", stream, "{}", accepted, &word));
    }

    #[test]
    fn what_was_blanked_goes_on_as_what_it_was() {
        let accepted =
            Acceptance { by: AccountId(Uuid::from_u128(2)).into(), received: Received(7), decision: false };
        let was = OpDigest::of("{\"a\":1}");
        let now = OpText { text: "{\"a\":0}", was: Some(was) };
        assert_eq!(Chain::EMPTY.then(now, accepted), Chain::EMPTY.then("{\"a\":1}", accepted));
        assert_eq!(OpDigest::of_hex(&was.hex()), Some(was));
        let stream = StreamId(Uuid::from_u128(1));
        let mac = receipt(b"key", stream, now, accepted);
        assert!(receipt_holds(b"key", stream, now, accepted, &mac));
        for other in [
            OpText { text: "{\"a\":2}", ..now },
            OpText { was: Some(OpDigest::of("{}")), ..now },
            OpText { was: None, ..now },
            OpText::from("{\"a\":1}"),
        ] {
            assert!(!receipt_holds(b"key", stream, other, accepted, &mac), "{other:?}");
        }
    }
}
