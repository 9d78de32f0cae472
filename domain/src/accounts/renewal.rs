//! When a refresh token still counts.
//!
//! It is used once and replaced. A bad signal may lose the answer, so the same token is good for a minute after its
//! first use, as long as none of its replacements has been used; later it can only be somebody's copy.

/// How long a used token stays good, in milliseconds.
pub const GRACE_MS: i64 = 60_000;

/// What is known about a refresh token that was sent.
#[derive(Clone, Copy, Debug)]
pub struct RefreshToken {
    /// When it was first used, if it was.
    pub first_used_ms: Option<i64>,
    /// Whether one of its replacements was used.
    pub replacement_used: bool,
}

/// What follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Renewal {
    /// A new token is given for it.
    Replace,
    /// It was used before and nobody needs it any more: somebody has a copy, the session ends.
    EndSession,
}

/// Decides about a token that is sent now.
pub fn renew(token: RefreshToken, now_ms: i64) -> Renewal {
    match token.first_used_ms {
        None => Renewal::Replace,
        Some(first) if !token.replacement_used && now_ms.saturating_sub(first) <= GRACE_MS => {
            Renewal::Replace
        }
        Some(_) => Renewal::EndSession,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sent(first_used_ms: Option<i64>, replacement_used: bool, now: i64) -> Renewal {
        renew(RefreshToken { first_used_ms, replacement_used }, now)
    }

    #[test]
    fn a_lost_answer_does_not_log_anybody_out() {
        assert_eq!(sent(None, false, 5), Renewal::Replace);
        assert_eq!(sent(Some(1_000), false, 1_000 + GRACE_MS), Renewal::Replace);
    }

    #[test]
    fn a_copy_ends_the_session() {
        assert_eq!(sent(Some(1_000), false, 1_001 + GRACE_MS), Renewal::EndSession);
        assert_eq!(sent(Some(1_000), true, 1_001), Renewal::EndSession);
    }
}
