//! Members under age: what stands where their name would, and what only their guardian may do for them.
//!
//! No dates of birth are kept: somebody is young until their guardian or an officer says that they are of age.

/// What everybody else reads in the place of a young member's name.
pub const YOUNG_NAME: &str = "a young member";

/// Whether somebody stands for themselves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Age {
    /// They do.
    OfAge,
    /// A guardian does.
    Young,
}

impl Age {
    /// Of an account that has a guardian, or none.
    pub fn of(has_guardian: bool) -> Self {
        if has_guardian { Self::Young } else { Self::OfAge }
    }

    /// Whether they may sell, buy and bid: whatever names money is their guardian's.
    pub fn may_deal_in_money(self) -> bool {
        self == Self::OfAge
    }

    /// Whether they write to members they don't know, agree to swaps with them, and get an answer themselves. For the
    /// young their guardian does.
    pub fn may_deal_with_others(self) -> bool {
        self == Self::OfAge
    }

    /// Whether they may stand for somebody who is young, and hold an office.
    pub fn may_answer_for_others(self) -> bool {
        self == Self::OfAge
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_young_do_nothing_with_money_or_strangers() {
        let all =
            |age: Age| [age.may_deal_in_money(), age.may_deal_with_others(), age.may_answer_for_others()];
        assert_eq!(all(Age::of(true)), [false; 3]);
        assert_eq!(all(Age::of(false)), [true; 3]);
    }
}
