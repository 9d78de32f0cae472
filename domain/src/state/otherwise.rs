//! From when on a thing's state is otherwise for the quarantine clock than it was: what was read of earlier instants
//! still holds. Rather names too early an instant than too late. Must not know the clock.

use super::entity::EntityState;
use crate::rooms::{EmptiedAt, Plumbing, Sharing, Stay};
use crate::streams::At;

/// Before everything.
pub(super) const EVER: At = At::FIRST;

/// From when on; none: the clock does not see the difference. A thing that was not there counts as otherwise from its
/// first instant on; whether anything spoke of it before is not known here.
pub(super) fn since(old: Option<&EntityState>, new: &EntityState) -> Option<At> {
    use EntityState as S;
    match (old, new) {
        (_, S::Brood(_) | S::Parcel(_)) => None,
        (Some(S::Stock(old)), S::Stock(new)) => {
            let fixed = (old.made, old.since, &old.came, &old.species, old.taken_in)
                == (new.made, new.since, &new.came, &new.species, new.taken_in);
            let both = [stays(&old.stays, &new.stays), first(&old.turns, &new.turns, |turn| turn.at, None)];
            if fixed { both.into_iter().flatten().min() } else { Some(EVER) }
        }
        (None, S::Stock(new)) => {
            let begins = new.stays.iter().map(|stay| stay.from).chain(new.turns.iter().map(|turn| turn.at));
            begins.chain(new.since).min()
        }
        (Some(S::Tank(old)), S::Tank(new)) => {
            let all = [
                plumbing(&old.plumbing, &new.plumbing),
                sharing(&old.hung, &new.hung),
                emptied(&old.emptied, &new.emptied),
            ];
            if old.made == new.made { all.into_iter().flatten().min() } else { Some(EVER) }
        }
        (Some(S::System(old)), S::System(new)) => {
            let all = [sharing(&old.joined, &new.joined), emptied(&old.emptied, &new.emptied)];
            if old.made == new.made { all.into_iter().flatten().min() } else { Some(EVER) }
        }
        (Some(S::Treatment(old)), S::Treatment(new)) => {
            let fixed =
                (old.made, old.from, old.system, old.tank) == (new.made, new.from, new.system, new.tank);
            match (old.until, new.until) {
                _ if !fixed => Some(EVER),
                (one, other) if one == other => None,
                (one, other) => one.into_iter().chain(other).map(|(at, _)| at).min(),
            }
        }
        (None, S::Treatment(new)) => new.from,
        (Some(S::Room(old)), S::Room(new)) => {
            let fixed = (&old.home, &old.rules, &old.own, &old.judged)
                == (&new.home, &new.rules, &new.own, &new.judged);
            let signed = first(&old.signed, &new.signed, |signed| signed.at, None);
            if fixed { signed } else { Some(EVER) }
        }
        _ => Some(EVER),
    }
}

/// The first instant from which two lists differ, of things that begin at an instant and may last.
fn first<T: PartialEq>(old: &[T], new: &[T], begin: fn(&T) -> At, lasts: Option<Lasts<T>>) -> Option<At> {
    let same = old.iter().zip(new).take_while(|(old, new)| old == new).count();
    let (old, new) = (&old[same..], &new[same..]);
    let begins = |all: &[T]| all.iter().map(begin).min();
    if let (Some(lasts), [one, old @ ..], [other, new @ ..]) = (lasts, old, new)
        && (lasts.but_for_the_end)(one, other)
    {
        let ends = [(lasts.until)(one), (lasts.until)(other)].into_iter().flatten();
        return ends.chain(begins(old)).chain(begins(new)).min();
    }
    begins(old).into_iter().chain(begins(new)).min()
}

/// Of what lasts.
struct Lasts<T> {
    /// Its end.
    until: fn(&T) -> Option<At>,
    /// Whether two are the same but for their ends.
    but_for_the_end: fn(&T, &T) -> bool,
}

fn stays(old: &[Stay], new: &[Stay]) -> Option<At> {
    let but_for_the_end = |a: &Stay, b: &Stay| *a == Stay { until: a.until, ..b.clone() };
    first(old, new, |stay| stay.from, Some(Lasts { until: |stay| stay.until, but_for_the_end }))
}

fn plumbing(old: &[Plumbing], new: &[Plumbing]) -> Option<At> {
    let but_for_the_end = |a: &Plumbing, b: &Plumbing| (a.system, a.from) == (b.system, b.from);
    first(old, new, |p| p.from, Some(Lasts { until: |p| p.until, but_for_the_end }))
}

fn sharing<Id: PartialEq>(old: &[Sharing<Id>], new: &[Sharing<Id>]) -> Option<At> {
    let but_for_the_end = |a: &Sharing<Id>, b: &Sharing<Id>| (&a.with, a.from) == (&b.with, b.from);
    first(old, new, |s| s.from, Some(Lasts { until: |s| s.until, but_for_the_end }))
}

fn emptied(old: &[EmptiedAt], new: &[EmptiedAt]) -> Option<At> {
    first(old, new, |emptied| emptied.at, None)
}
