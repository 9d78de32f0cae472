//! Slows down who tries passwords, by (login name, address) and by address, never by login name alone, so that nobody
//! can lock another out; and who tries secret addresses.
//!
//! In memory and bounded; a restart forgives.

use std::collections::HashMap;
use std::hash::Hash;
use std::net::{IpAddr, Ipv6Addr};
use std::sync::{Mutex, PoisonError};

const WINDOW_MS: i64 = 15 * 60_000;
const DAY_MS: i64 = 86_400_000;
/// Wrong codes of one account, from wherever they come: who tries them knows its password, so that nobody else can hold
/// its owner up by it. Recovery codes are not counted.
const CODES_A_DAY: u32 = 50;
const PER_PAIR: u32 = 10;
const PER_ADDRESS: u32 = 100;
/// Wrong secret addresses; a program that goes on asking for a calendar that has ended stays below.
const SECRETS_PER_ADDRESS: u32 = 60;
/// Letters that anybody may ask for, by what was typed and the address, and by the address.
const LETTERS_PER_PAIR: u32 = 4;
const LETTERS_PER_ADDRESS: u32 = 30;
/// How many keys are kept; the oldest go first.
const KEPT: usize = 20_000;

/// The tries of this process.
#[derive(Default)]
pub struct Throttle(Mutex<Tries>);

#[derive(Default)]
struct Tries {
    by_pair: Windows<(String, IpAddr)>,
    by_address: Windows<IpAddr>,
    codes: Windows<String, DAY_MS>,
    secrets: Windows<IpAddr>,
    letters: Windows<(String, IpAddr)>,
    letters_by_address: Windows<IpAddr>,
}

impl Throttle {
    /// Counts a try as wrong until [`Throttle::forgive`] takes it back; a no says how many seconds to wait.
    pub fn begin(&self, login: &str, address: IpAddr, now: i64) -> Result<(), u64> {
        let (mut tries, address) = (self.0.lock().unwrap_or_else(PoisonError::into_inner), network(address));
        let pair = (login.to_owned(), address);
        tries.by_pair.allows(&pair, PER_PAIR, now)?;
        tries.by_address.allows(&address, PER_ADDRESS, now)?;
        tries.by_pair.count(pair, now);
        tries.by_address.count(address, now);
        Ok(())
    }

    /// Counts a code of an account as wrong until [`Throttle::forgive_code`] takes it back; a no says how many seconds to
    /// wait.
    pub fn begin_code(&self, login: &str, now: i64) -> Result<(), u64> {
        let mut tries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        tries.codes.allows(&login.to_owned(), CODES_A_DAY, now)?;
        tries.codes.count(login.to_owned(), now);
        Ok(())
    }

    /// The code was right; those before it stay counted.
    pub fn forgive_code(&self, login: &str) {
        let mut tries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(window) = tries.codes.0.get_mut(login) {
            window.count = window.count.saturating_sub(1);
        }
    }

    /// Counts a wrong secret address; a no says how many seconds to wait.
    pub fn wrong_secret(&self, address: IpAddr, now: i64) -> Result<(), u64> {
        let (mut tries, address) = (self.0.lock().unwrap_or_else(PoisonError::into_inner), network(address));
        tries.secrets.allows(&address, SECRETS_PER_ADDRESS, now)?;
        tries.secrets.count(address, now);
        Ok(())
    }

    /// Counts a letter that was asked for; a no says how many seconds to wait.
    pub fn ask_letter(&self, typed: &str, address: IpAddr, now: i64) -> Result<(), u64> {
        let (mut tries, address) = (self.0.lock().unwrap_or_else(PoisonError::into_inner), network(address));
        let pair = (typed.to_owned(), address);
        tries.letters.allows(&pair, LETTERS_PER_PAIR, now)?;
        tries.letters_by_address.allows(&address, LETTERS_PER_ADDRESS, now)?;
        tries.letters.count(pair, now);
        tries.letters_by_address.count(address, now);
        Ok(())
    }

    /// The password was right.
    pub fn forgive(&self, login: &str, address: IpAddr) {
        let (mut tries, address) = (self.0.lock().unwrap_or_else(PoisonError::into_inner), network(address));
        tries.by_pair.0.remove(&(login.to_owned(), address));
        if let Some(window) = tries.by_address.0.get_mut(&address) {
            window.count = window.count.saturating_sub(1);
        }
    }
}

/// Somebody with one IPv6 address has the whole /64.
fn network(address: IpAddr) -> IpAddr {
    match address {
        IpAddr::V4(_) => address,
        IpAddr::V6(v6) => IpAddr::V6(Ipv6Addr::from_bits(v6.to_bits() & !u128::from(u64::MAX))),
    }
}

struct Window {
    begun: i64,
    count: u32,
}

/// Counts by key, each in a window of `MS` milliseconds.
struct Windows<K, const MS: i64 = WINDOW_MS>(HashMap<K, Window>);

impl<K, const MS: i64> Default for Windows<K, MS> {
    fn default() -> Self {
        Self(HashMap::new())
    }
}

impl<K: Hash + Eq + Clone, const MS: i64> Windows<K, MS> {
    fn allows(&self, key: &K, most: u32, now: i64) -> Result<(), u64> {
        match self.0.get(key) {
            Some(window) if window.count >= most && now < window.begun + MS => {
                let wait_ms = u64::try_from(window.begun + MS - now).unwrap_or(0);
                Err(wait_ms.div_ceil(1000))
            }
            _ => Ok(()),
        }
    }

    fn count(&mut self, key: K, now: i64) {
        if self.0.len() >= KEPT && !self.0.contains_key(&key) {
            self.make_room(now);
        }
        let window = self.0.entry(key).or_insert(Window { begun: now, count: 0 });
        if now >= window.begun + MS {
            *window = Window { begun: now, count: 0 };
        }
        window.count = window.count.saturating_add(1);
    }

    fn make_room(&mut self, now: i64) {
        self.0.retain(|_, window| now < window.begun + MS);
        if self.0.len() >= KEPT {
            let mut begun: Vec<i64> = self.0.values().map(|window| window.begun).collect();
            let middle = begun.len() / 2;
            let (_, median, _) = begun.select_nth_unstable(middle);
            let median = *median;
            self.0.retain(|_, window| window.begun > median);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ip(text: &str) -> IpAddr {
        text.parse().expect("an address")
    }

    #[test]
    fn one_address_is_held_up_and_others_are_not() {
        let throttle = Throttle::default();
        for now in 0..i64::from(PER_PAIR) {
            assert_eq!(throttle.begin("mira", ip("10.0.0.1"), now), Ok(()));
        }
        assert_eq!(throttle.begin("mira", ip("10.0.0.1"), 10), Err(900));
        assert_eq!(throttle.begin("mira", ip("10.0.0.2"), 10), Ok(()));
        assert_eq!(throttle.begin("jonas", ip("10.0.0.1"), 10), Ok(()));
        assert_eq!(throttle.begin("mira", ip("10.0.0.1"), WINDOW_MS), Ok(()));
    }

    #[test]
    fn many_names_from_one_address_are_held_up_too() {
        let throttle = Throttle::default();
        for name in 0..PER_ADDRESS {
            assert_eq!(throttle.begin(&name.to_string(), ip("2001:db8::1"), 0), Ok(()));
        }
        assert!(throttle.begin("another", ip("2001:db8::2"), 0).is_err(), "the same /64");
        throttle.forgive("0", ip("2001:db8::1"));
        assert_eq!(throttle.begin("another", ip("2001:db8::2"), 0), Ok(()));
    }

    #[test]
    fn codes_of_one_account_are_counted_wherever_they_come_from() {
        let throttle = Throttle::default();
        for _ in 0..CODES_A_DAY {
            assert_eq!(throttle.begin_code("mira", 0), Ok(()));
        }
        assert_eq!(throttle.begin_code("mira", WINDOW_MS), Err(85_500), "a day, not a quarter of an hour");
        throttle.forgive_code("mira");
        assert_eq!(throttle.begin_code("mira", 0), Ok(()));
        assert_eq!(throttle.begin_code("jonas", 0), Ok(()));
        assert_eq!(throttle.begin_code("mira", DAY_MS), Ok(()));
    }

    #[test]
    fn who_tries_many_secrets_is_held_up() {
        let throttle = Throttle::default();
        for _ in 0..SECRETS_PER_ADDRESS {
            assert_eq!(throttle.wrong_secret(ip("10.0.0.1"), 0), Ok(()));
        }
        assert_eq!(throttle.wrong_secret(ip("10.0.0.1"), 0), Err(900));
        assert_eq!(throttle.wrong_secret(ip("10.0.0.2"), 0), Ok(()));
        assert_eq!(throttle.begin("mira", ip("10.0.0.1"), 0), Ok(()), "passwords are counted apart");
    }

    #[test]
    fn memory_is_bounded() {
        let mut windows = Windows::<u64>::default();
        for key in 0..50_000_u64 {
            windows.count(key, i64::try_from(key).unwrap_or(0));
        }
        assert!(windows.0.len() <= KEPT);
        assert!(windows.0.contains_key(&49_999));
    }
}
