//! Access tokens: JWT signed with Ed25519, ten minutes, algorithm and kind pinned (RFC 8725).
//!
//! Only made and read here; who gets one is decided in `accounts`.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use jsonwebtoken::jwk::{Jwk, JwkSet, KeyAlgorithm, PublicKeyUse};
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::keys::Key;

/// How long an access token is good, in seconds.
pub const GOOD_FOR_S: i64 = 600;
const KIND: &str = "at+jwt";
const AUDIENCE: &str = "tarn-api";

/// What an access token says (RFC 9068).
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Claims {
    iss: String,
    aud: String,
    /// The account.
    pub sub: Uuid,
    /// The session.
    pub sid: Uuid,
    exp: i64,
    iat: i64,
    jti: Uuid,
}

/// Makes and reads access tokens.
pub struct Tokens {
    issuer: String,
    kid: String,
    signs: EncodingKey,
    reads: DecodingKey,
    published: Jwk,
}

impl Tokens {
    /// The id of the key, which no other server has.
    pub fn kid(&self) -> &str {
        &self.kid
    }

    /// With this seed of an Ed25519 key, in the name of this issuer.
    pub fn new(seed: &Key, issuer: &str) -> Result<Self, jsonwebtoken::errors::Error> {
        // PKCS #8 of an Ed25519 seed (RFC 8410) is a fixed beginning and the seed.
        let begin = [0x30, 0x2e, 2, 1, 0, 0x30, 5, 6, 3, 0x2b, 0x65, 0x70, 4, 0x22, 4, 0x20];
        let signs = EncodingKey::from_ed_der(&[begin.as_slice(), seed].concat());
        let mut published = Jwk::from_encoding_key(&signs, Algorithm::EdDSA)?;
        let reads = DecodingKey::from_jwk(&published)?;
        let kid = URL_SAFE_NO_PAD.encode(&Sha256::digest(serde_json::to_vec(&published.algorithm)?)[..12]);
        published.common.key_id = Some(kid.clone());
        published.common.public_key_use = Some(PublicKeyUse::Signature);
        published.common.key_algorithm = Some(KeyAlgorithm::EdDSA);
        Ok(Self { issuer: issuer.to_owned(), kid, signs, reads, published })
    }

    /// A token for this account in this session.
    pub fn make(
        &self,
        account: Uuid,
        session: Uuid,
        jti: Uuid,
        now_ms: i64,
    ) -> Result<String, jsonwebtoken::errors::Error> {
        let iat = now_ms.div_euclid(1000);
        let claims = Claims {
            iss: self.issuer.clone(),
            aud: AUDIENCE.to_owned(),
            sub: account,
            sid: session,
            exp: iat + GOOD_FOR_S,
            iat,
            jti,
        };
        let mut header = Header::new(Algorithm::EdDSA);
        header.typ = Some(KIND.to_owned());
        header.kid = Some(self.kid.clone());
        jsonwebtoken::encode(&header, &claims, &self.signs)
    }

    /// What the token says, if it is one of ours and still good.
    pub fn read(&self, token: &str, now_ms: i64) -> Option<Claims> {
        let header = jsonwebtoken::decode_header(token).ok()?;
        if header.typ.as_deref() != Some(KIND) || header.kid.as_deref() != Some(&self.kid) {
            return None;
        }
        let mut rules = Validation::new(Algorithm::EdDSA);
        rules.set_issuer(&[&self.issuer]);
        rules.set_audience(&[AUDIENCE]);
        // The library would ask the ambient clock; ours may be shifted.
        rules.validate_exp = false;
        let claims = jsonwebtoken::decode::<Claims>(token, &self.reads, &rules).ok()?.claims;
        (claims.exp > now_ms.div_euclid(1000)).then_some(claims)
    }

    /// The public keys, for `/.well-known/jwks.json`.
    pub fn published(&self) -> JwkSet {
        JwkSet { keys: vec![self.published.clone()] }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: i64 = 1_700_000_000_000;

    fn tokens(seed: u8) -> Tokens {
        Tokens::new(&[seed; 32], "https://tarn.example").expect("a key")
    }

    #[test]
    fn a_token_is_read_until_it_runs_out() {
        let (account, session) = (Uuid::from_u128(1), Uuid::from_u128(2));
        let token = tokens(7).make(account, session, Uuid::from_u128(3), NOW).expect("made");
        let claims = tokens(7).read(&token, NOW + GOOD_FOR_S * 1000 - 1).expect("good");
        assert_eq!((claims.sub, claims.sid), (account, session));
        assert!(tokens(7).read(&token, NOW + GOOD_FOR_S * 1000).is_none());
    }

    #[test]
    fn other_keys_issuers_and_kinds_are_refused() {
        let token = tokens(7).make(Uuid::nil(), Uuid::nil(), Uuid::nil(), NOW).expect("made");
        assert!(tokens(8).read(&token, NOW).is_none());
        let elsewhere = Tokens::new(&[7; 32], "https://other.example").expect("a key");
        assert!(elsewhere.read(&token, NOW).is_none());
        let mut parts: Vec<&str> = token.split('.').collect();
        let header = URL_SAFE_NO_PAD.encode(r#"{"alg":"none","typ":"at+jwt"}"#);
        parts[0] = &header;
        assert!(tokens(7).read(&parts.join("."), NOW).is_none());
        assert!(tokens(7).read("", NOW).is_none());
    }

    /// RFC 8037, appendix A: the public key of the example seed.
    #[test]
    fn the_published_key_is_the_seeds() {
        let seed = URL_SAFE_NO_PAD.decode("nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A").expect("base64");
        let tokens = Tokens::new(&seed.try_into().expect("32 bytes"), "x").expect("a key");
        let set = serde_json::to_value(tokens.published()).expect("json");
        assert_eq!(set["keys"][0]["x"], "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo");
        assert_eq!(set["keys"][0]["kty"], "OKP");
        assert!(set["keys"][0].get("d").is_none());
    }
}
