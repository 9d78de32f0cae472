//! What water changes and a filter's turnovers leave, in a perfectly mixed tank. Shown, never stored.

/// The share of a dissolved thing that is left after equal water changes.
pub fn left_after_changes(share: f64, times: u32) -> f64 {
    (1.0 - share.clamp(0.0, 1.0)).powf(f64::from(times))
}

/// How many equal changes leave at most so much of it; none if no number does.
pub fn changes_until(share: f64, left: f64) -> Option<u32> {
    let (share, left) = (share.clamp(0.0, 1.0), left.clamp(0.0, 1.0));
    if share <= 0.0 || (left <= 0.0 && share < 1.0) {
        return None;
    }
    (0..=10_000).find(|times| left_after_changes(share, *times) <= left + 1e-12)
}

/// What a steady addition between equal changes comes to in the end: before a change, and after it.
pub fn accumulates_to(added: f64, share: f64) -> Option<(f64, f64)> {
    (share > 0.0 && share <= 1.0).then(|| (added / share, added * (1.0 - share) / share))
}

/// The share of the water that went through the filter at least once after so many turnovers.
pub fn treated_after_turnovers(turnovers: f64) -> f64 {
    1.0 - (-turnovers.max(0.0)).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "{got} is not {want}");
    }

    /// Computed: dilution.
    #[test]
    fn changes_dilute() {
        near(left_after_changes(0.25, 4), 0.316_406_25, 1e-12);
        near(left_after_changes(0.5, 2), 0.25, 1e-12);
        assert_eq!((changes_until(0.5, 0.25), changes_until(0.25, 0.25)), (Some(2), Some(5)));
        assert_eq!((changes_until(0.0, 0.5), changes_until(0.3, 0.0)), (None, None));
        assert_eq!(changes_until(1.0, 0.0), Some(1));
    }

    /// Computed: geometric series.
    #[test]
    fn additions_pile_up() {
        assert_eq!(accumulates_to(10.0, 0.25), Some((40.0, 30.0)));
        assert_eq!(accumulates_to(10.0, 0.0), None);
    }

    /// Computed: perfectly mixed tank, 1 − e^−n.
    #[test]
    fn turnovers() {
        for (n, want) in
            [(1.0, 0.632_120_558_828_557_7), (2.0, 0.864_664_716_763_387_3), (5.0, 0.993_262_053_000_914_5)]
        {
            near(treated_after_turnovers(n), want, 1e-9);
        }
    }
}
