//! Short proofs that the server itself wrote something: the session cookie and the tokens in forms.
//!
//! HMAC-SHA-256 under the cookie key, with the purpose in front, so that one can't stand for the other.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;
use subtle::ConstantTimeEq;
use uuid::Uuid;

use super::keys::Key;

fn mac(key: &Key, purpose: &str, session: Uuid) -> [u8; 32] {
    let mut mac = Hmac::<Sha256>::new_from_slice(key).expect("any length of key will do");
    mac.update(purpose.as_bytes());
    mac.update(&[0]);
    mac.update(session.as_bytes());
    mac.finalize().into_bytes().into()
}

/// The value of the cookie of this session.
pub fn cookie(key: &Key, session: Uuid) -> String {
    let mut value = session.as_bytes().to_vec();
    value.extend(mac(key, "cookie", session));
    URL_SAFE_NO_PAD.encode(value)
}

/// The session a cookie stands for, if we wrote it.
pub fn session_of(key: &Key, cookie: &str) -> Option<Uuid> {
    let value = URL_SAFE_NO_PAD.decode(cookie).ok()?;
    let (session, sent) = value.split_at_checked(16)?;
    let session = Uuid::from_slice(session).ok()?;
    bool::from(mac(key, "cookie", session).ct_eq(sent)).then_some(session)
}

/// What the forms of this session carry.
pub fn form_token(key: &Key, session: Uuid) -> String {
    URL_SAFE_NO_PAD.encode(mac(key, "form", session))
}

/// Whether a form carries what it should.
pub fn is_form_token(key: &Key, session: Uuid, sent: &str) -> bool {
    form_token(key, session).as_bytes().ct_eq(sent.as_bytes()).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_we_sealed_opens() {
        let (key, session) = ([1; 32], Uuid::from_u128(5));
        let value = cookie(&key, session);
        assert_eq!(session_of(&key, &value), Some(session));
        assert_eq!(session_of(&[2; 32], &value), None);
        assert_eq!(session_of(&key, &value[..20]), None);
        assert_eq!(session_of(&key, "not base64!"), None);
        assert!(is_form_token(&key, session, &form_token(&key, session)));
        assert!(!is_form_token(&key, Uuid::from_u128(6), &form_token(&key, session)));
        assert!(!is_form_token(&key, session, &value));
    }
}
