//! How often a letter that anybody may ask for goes to one address: nobody's mailbox is filled by others, and nobody is
//! kept from theirs, since a link of the last letter is good for longer than the longest wait.

const FIRST_WAIT_MS: i64 = 10 * 60_000;
const LONGEST_WAIT_MS: i64 = 3 * 3_600_000;

/// How far back letters count.
pub const LETTERS_COUNT_MS: i64 = 86_400_000;
/// How long a link in such a letter is good.
pub const ASKED_LINK_GOOD_FOR_MS: i64 = 6 * 3_600_000;

/// Whether another letter may go out, after those that were made at these times, the newest first: ten minutes after the
/// first, then twice as long each time, three hours at most.
pub fn may_write_again(made_ms: &[i64], now_ms: i64) -> bool {
    let made: Vec<i64> = made_ms.iter().copied().filter(|made| *made > now_ms - LETTERS_COUNT_MS).collect();
    let Some(newest) = made.first() else { return true };
    let doublings = u32::try_from(made.len() - 1).unwrap_or(u32::MAX).min(16);
    let wait = (FIRST_WAIT_MS << doublings).min(LONGEST_WAIT_MS);
    now_ms >= newest + wait
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mailbox_gets_few_however_often_somebody_asks() {
        let (mut made, mut all) = (Vec::new(), 0);
        for minute in 0..24 * 60 {
            let now = 1_800_000_000_000 + minute * 60_000;
            if may_write_again(&made, now) {
                made.insert(0, now);
                all += 1;
            }
        }
        assert_eq!(all, 12);
        let waits: Vec<i64> = made.windows(2).map(|two| (two[0] - two[1]) / 60_000).rev().take(6).collect();
        assert_eq!(waits, [10, 20, 40, 80, 160, 180]);
        assert!(may_write_again(&made, made[0] + LETTERS_COUNT_MS));
    }

    #[test]
    fn there_is_always_a_letter_whose_link_is_good() {
        const { assert!(LONGEST_WAIT_MS < ASKED_LINK_GOOD_FOR_MS) };
        let made: Vec<i64> = (0..50).map(|n| -n).collect();
        assert!(may_write_again(&made, LONGEST_WAIT_MS) && !may_write_again(&made, LONGEST_WAIT_MS - 1));
    }
}
