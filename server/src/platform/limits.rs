//! How much one caller may take: settings, each with a number that a society does not meet by living.
//!
//! Only reading them; what is refused stands where it is counted.

use serde::Deserialize;

/// The limits as they may be given by flag or environment.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct LimitSettings {
    /// New entries that an account may push in a day (UTC). In tarn.toml: limits.ops_per_day [default: 200000]
    #[arg(long, env = "TARN_OPS_PER_DAY", value_name = "N")]
    pub ops_per_day: Option<u64>,
    /// Entries that a stream may hold. In tarn.toml: limits.ops_per_stream [default: 5000000]
    #[arg(long, env = "TARN_OPS_PER_STREAM", value_name = "N")]
    pub ops_per_stream: Option<u64>,
    /// Event streams that an account may have open. In tarn.toml: limits.live_per_account [default: 32]
    #[arg(long, env = "TARN_LIVE_PER_ACCOUNT", value_name = "N")]
    pub live_per_account: Option<usize>,
    /// After how many seconds an open event stream asks again whether its reader may still read. In tarn.toml:
    /// limits.live_check_s [default: 60]
    #[arg(long, env = "TARN_LIVE_CHECK_S", value_name = "SECONDS")]
    pub live_check_s: Option<u64>,
    /// After how many seconds open event streams look for news that nobody told them of. In tarn.toml:
    /// limits.live_sweep_s [default: 4]
    #[arg(long, env = "TARN_LIVE_SWEEP_S", value_name = "SECONDS")]
    pub live_sweep_s: Option<u64>,
}

/// The table `limits` of `tarn.toml`.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FileLimits {
    ops_per_day: Option<u64>,
    ops_per_stream: Option<u64>,
    live_per_account: Option<usize>,
    live_check_s: Option<u64>,
    live_sweep_s: Option<u64>,
}

/// The limits in force.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// New ops that an account may push in a day.
    pub ops_per_day: u64,
    /// Ops of a stream.
    pub ops_per_stream: u64,
    /// Open event streams of an account, in each process.
    pub live_per_account: usize,
    /// After how many seconds an event stream asks for its reader's right again.
    pub live_check_s: u64,
    /// After how many seconds event streams look for what nobody told them.
    pub live_sweep_s: u64,
}

impl Limits {
    /// A flag wins over the environment, the environment over the file.
    pub(super) fn of(given: &LimitSettings, file: &FileLimits) -> Self {
        Self {
            ops_per_day: given.ops_per_day.or(file.ops_per_day).unwrap_or(200_000),
            ops_per_stream: given.ops_per_stream.or(file.ops_per_stream).unwrap_or(5_000_000),
            live_per_account: given.live_per_account.or(file.live_per_account).unwrap_or(32),
            // none of them may be 0: they are waits
            live_check_s: given.live_check_s.or(file.live_check_s).unwrap_or(60).max(1),
            live_sweep_s: given.live_sweep_s.or(file.live_sweep_s).unwrap_or(4).max(1),
        }
    }
}
