//! How a swap goes: `proposed → agreed → done`, or `declined`, `withdrawn`, `expired`. Knows neither rooms nor parcels.

use crate::streams::At;

/// A proposal that nobody answers in so many days is over.
pub const ANSWER_DAYS: i64 = 14;

/// How far a swap has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SwapState {
    /// The other has not answered.
    Proposed,
    /// Both want it.
    Agreed,
    /// All that was to go has arrived.
    Done,
    /// The other did not want it, or proposed otherwise.
    Declined,
    /// Taken back.
    Withdrawn,
    /// Nobody answered.
    Expired,
}

impl SwapState {
    /// All of them.
    pub const ALL: [Self; 6] =
        [Self::Proposed, Self::Agreed, Self::Done, Self::Declined, Self::Withdrawn, Self::Expired];

    /// Its word, in the API, in the database and for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Proposed => "proposed",
            Self::Agreed => "agreed",
            Self::Done => "done",
            Self::Declined => "declined",
            Self::Withdrawn => "withdrawn",
            Self::Expired => "expired",
        }
    }

    /// The state of this word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.as_str() == word)
    }

    /// The state at a time: a proposal is over when its days are, whether or not anybody has written that down.
    pub fn at(self, ends: At, now: At) -> Self {
        if self == Self::Proposed && now >= ends { Self::Expired } else { self }
    }
}

/// What one side does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SwapAct {
    /// Agrees.
    Agree,
    /// Does not want it, or proposes otherwise.
    Decline,
    /// Takes it back: the proposal, or what was agreed while nothing has left.
    Withdraw,
}

/// Who does it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SwapSide {
    /// Who proposed it.
    Proposer,
    /// Whom it was proposed to.
    Other,
}

/// Why it can't be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SwapRefusal {
    /// The other side does this.
    #[error("{}", match .0 {
        SwapAct::Withdraw => "only who proposed a swap withdraws the proposal; you may decline it",
        _ => "whoever a swap was proposed to answers it; you may withdraw it",
    })]
    OtherSide(SwapAct),
    /// It is past that.
    #[error("this swap is {}", .0.as_str())]
    Over(SwapState),
    /// Fish are on their way.
    #[error("a parcel of this swap has left already; what arrived, or came back, is recorded in the rooms")]
    Left,
}

/// The state after an act. `has_left`: whether a parcel of the swap was sent.
///
/// # Errors
/// Why not.
pub fn after(
    state: SwapState,
    act: SwapAct,
    side: SwapSide,
    has_left: bool,
) -> Result<SwapState, SwapRefusal> {
    match (state, act, side) {
        (SwapState::Proposed, SwapAct::Agree, SwapSide::Other) => Ok(SwapState::Agreed),
        (SwapState::Proposed, SwapAct::Decline, SwapSide::Other) => Ok(SwapState::Declined),
        (SwapState::Proposed, SwapAct::Withdraw, SwapSide::Proposer) => Ok(SwapState::Withdrawn),
        (SwapState::Proposed, ..) => Err(SwapRefusal::OtherSide(act)),
        (SwapState::Agreed, SwapAct::Withdraw, _) if has_left => Err(SwapRefusal::Left),
        (SwapState::Agreed, SwapAct::Withdraw, _) => Ok(SwapState::Withdrawn),
        _ => Err(SwapRefusal::Over(state)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_side_does_its_own() {
        use SwapAct::{Agree, Decline, Withdraw};
        use SwapSide::{Other, Proposer};
        use SwapState::{Agreed, Declined, Done, Expired, Proposed, Withdrawn};
        assert_eq!(after(Proposed, Agree, Other, false), Ok(Agreed));
        assert_eq!(after(Proposed, Decline, Other, false), Ok(Declined));
        assert_eq!(after(Proposed, Withdraw, Proposer, false), Ok(Withdrawn));
        for (act, side) in [(Agree, Proposer), (Decline, Proposer), (Withdraw, Other)] {
            assert_eq!(after(Proposed, act, side, false), Err(SwapRefusal::OtherSide(act)));
        }
        for side in [Proposer, Other] {
            assert_eq!(after(Agreed, Withdraw, side, false), Ok(Withdrawn));
            assert_eq!(after(Agreed, Withdraw, side, true), Err(SwapRefusal::Left));
            assert_eq!(after(Agreed, Agree, side, false), Err(SwapRefusal::Over(Agreed)));
            for over in [Done, Declined, Withdrawn, Expired] {
                for act in [Agree, Decline, Withdraw] {
                    assert_eq!(after(over, act, side, false), Err(SwapRefusal::Over(over)));
                }
            }
        }
    }

    #[test]
    fn only_a_proposal_runs_out() {
        let (ends, before) = (At::from_seconds(100), At::from_seconds(99));
        assert_eq!(SwapState::Proposed.at(ends, before), SwapState::Proposed);
        assert_eq!(SwapState::Proposed.at(ends, ends), SwapState::Expired);
        assert_eq!(SwapState::Agreed.at(ends, ends), SwapState::Agreed);
    }
}
