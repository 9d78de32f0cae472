//! Hashing passwords: argon2id with the OWASP parameters, off the async threads, on half the cores at most.
//!
//! The other half is for everybody who is in already: a storm of wrong passwords must not slow their syncs down. Who would
//! have to wait behind too many is told to come again.

use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread::available_parallelism;

use argon2::password_hash::phc::{Output, ParamsString, Salt};
use argon2::{Algorithm, Argon2, Block, Params, PasswordHash, Version};
use subtle::ConstantTimeEq;
use tokio::sync::Semaphore;

use super::super::refusals::BUSY_NOW;
use crate::platform::{Ctx, Problem, Result};

/// So many wait their turn; each takes about 20 ms of a core.
const MOST_WAITING: usize = 40;
/// A hash of nothing anybody knows: looked at when there is no such account, so that it takes as long.
const NOBODY: &str =
    "$argon2id$v=19$m=19456,t=2,p=1$dGFybi1ub2JvZHktc2FsdA$b5KGvySr6YKmLuzQ4nP0EmL/FXVkvmHTe/UPIIGAxcE";

/// Keeps the number of hashings small.
struct Turns {
    turns: Semaphore,
    waiting: AtomicUsize,
}

impl Default for Turns {
    fn default() -> Self {
        let cores = available_parallelism().map_or(1, NonZero::get);
        Self { turns: Semaphore::new((cores / 2).max(1)), waiting: AtomicUsize::new(0) }
    }
}

/// Somebody who waits, until they don't.
struct Waiting<'a>(&'a AtomicUsize);

impl<'a> Waiting<'a> {
    fn behind(turns: &'a Turns) -> Result<Self> {
        let place = Self(&turns.waiting);
        if turns.waiting.fetch_add(1, Ordering::Relaxed) < MOST_WAITING { Ok(place) } else { Err(busy()) }
    }
}

impl Drop for Waiting<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

fn busy() -> Problem {
    Problem::new(&BUSY_NOW).retry_after(2)
}

/// Asked before a try is counted, so that who is turned away at the door has not tried.
///
/// # Errors
/// `busy-now`.
pub fn has_room(ctx: &Ctx) -> Result<()> {
    let waiting = ctx.part::<Turns>().waiting.load(Ordering::Relaxed);
    if waiting < MOST_WAITING { Ok(()) } else { Err(busy()) }
}

/// OWASP: m = 19456 KiB, t = 2, p = 1.
fn params() -> Params {
    Params::new(19_456, 2, 1, None).expect("these parameters are in range")
}

/// The allocator gives memory of more than 32 MiB back to the system as soon as it is free; of less it keeps 19 MiB
/// for every thread that ever hashed. What is asked for here beyond the parameters is never touched.
const GIVEN_BACK_BLOCKS: usize = 33 * 1024;

fn digest(
    params: Params,
    version: Version,
    password: &[u8],
    salt: &[u8],
    out: &mut [u8],
) -> argon2::Result<()> {
    let mut memory = Vec::with_capacity(params.block_count().max(GIVEN_BACK_BLOCKS));
    memory.resize(params.block_count(), Block::default());
    let argon2 = Argon2::new(Algorithm::Argon2id, version, params);
    argon2.hash_password_into_with_memory(password, salt, out, memory.as_mut_slice())
}

async fn in_turn<T: Send + 'static>(ctx: &Ctx, work: impl FnOnce() -> T + Send + 'static) -> Result<T> {
    let turns = ctx.part::<Turns>();
    let waiting = Waiting::behind(&turns)?;
    let _turn = turns.turns.acquire().await.map_err(|err| Problem::failed("hashing", err))?;
    drop(waiting);
    tokio::task::spawn_blocking(work).await.map_err(|err| Problem::failed("hashing", err))
}

/// The hash of a new password, as a PHC string.
pub async fn hash(ctx: &Ctx, password: &str) -> Result<String> {
    let (salt, password) = (ctx.ids.bytes::<16>(), password.to_owned());
    let hashed = in_turn(ctx, move || phc(password.as_bytes(), &salt).map(|hash| hash.to_string()));
    hashed.await?.map_err(|err| Problem::failed("hashing", err))
}

fn phc(password: &[u8], salt: &[u8]) -> Result<PasswordHash, argon2::password_hash::Error> {
    let mut out = [0; Params::DEFAULT_OUTPUT_LEN];
    digest(params(), Version::V0x13, password, salt, &mut out)?;
    Ok(PasswordHash {
        algorithm: Algorithm::Argon2id.ident(),
        version: Some(Version::V0x13.into()),
        params: ParamsString::try_from(&params())?,
        salt: Some(Salt::new(salt)?),
        hash: Some(Output::new(&out)?),
    })
}

/// Whether the password is the one of this argon2id hash, whatever its parameters.
fn fits(password: &[u8], hash: &str) -> Option<bool> {
    let hash = PasswordHash::new(hash).ok().filter(|hash| hash.algorithm == Algorithm::Argon2id.ident())?;
    let (salt, wanted) = (hash.salt?, hash.hash?);
    let params = Params::try_from(&hash).ok()?;
    let version = Version::try_from(hash.version?).ok()?;
    let mut out = vec![0; wanted.len()];
    digest(params, version, password, &salt, &mut out).ok()?;
    Some(out.ct_eq(wanted.as_ref()).into())
}

/// What a password is to a hash.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Match {
    /// Not the one.
    No,
    /// The one.
    Yes,
    /// The one, but hashed with other parameters than today's.
    YesOutdated,
}

/// Whether the password is the one of the hash; without a hash it isn't, after as long a time.
pub async fn check(ctx: &Ctx, password: &str, hash: Option<String>) -> Result<Match> {
    let (hash, password, known) =
        (hash.clone().unwrap_or_else(|| NOBODY.to_owned()), password.to_owned(), hash.is_some());
    in_turn(ctx, move || {
        let fits = fits(password.as_bytes(), &hash).unwrap_or(false);
        match (known && fits, is_of_today(&hash)) {
            (false, _) => Match::No,
            (true, true) => Match::Yes,
            (true, false) => Match::YesOutdated,
        }
    })
    .await
}

fn is_of_today(hash: &str) -> bool {
    let read = PasswordHash::new(hash);
    read.is_ok_and(|hash| {
        hash.algorithm.as_str() == "argon2id"
            && Params::try_from(&hash).is_ok_and(|p| (p.m_cost(), p.t_cost(), p.p_cost()) == (19_456, 2, 1))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_password_fits_its_own_hash_and_no_other() {
        let hash = phc(b"moss on the sill", &[7; 16]).expect("hashed").to_string();
        assert!(hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{hash}");
        assert_eq!(fits(b"moss on the sill", &hash), Some(true));
        assert_eq!(fits(b"moss on the sil", &hash), Some(false));
        assert_eq!(fits(b"moss on the sill", "nonsense"), None);
    }

    /// RFC 9106, 5.3, has a secret and associated data; this one is the reference implementation's (from memory):
    /// `echo -n password | argon2 somesalt -id -t 2 -m 16 -p 1`.
    #[test]
    fn hashes_are_those_of_the_reference() {
        let hash = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc";
        assert_eq!(fits(b"password", hash), Some(true));
        assert!(!is_of_today(hash), "other parameters are brought up to date at the next login");
    }

    #[test]
    fn the_stand_in_costs_what_a_real_hash_costs() {
        assert!(is_of_today(NOBODY));
        assert_eq!(fits(b"anything", NOBODY), Some(false));
    }

    #[test]
    fn who_would_wait_behind_too_many_is_turned_away() {
        let turns = Turns::default();
        let waiting: Vec<_> =
            (0..MOST_WAITING).map(|_| Waiting::behind(&turns).expect("there is room")).collect();
        assert_eq!(Waiting::behind(&turns).err().map(|no| no.kind().code), Some("busy-now"));
        drop(waiting);
        assert!(Waiting::behind(&turns).is_ok());
        assert_eq!(turns.waiting.load(Ordering::Relaxed), 0);
    }
}
