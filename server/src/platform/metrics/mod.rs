//! Figures about this process, for whatever watches it: what was asked, what was taken in, what waits.
//!
//! ```text
//! ctx.part::<Metrics>().job_failed(kind)      // counted where it happens
//! Readings(vec![streams::readings])           // read when somebody looks; set in app.rs
//! ```
//! No personal data and no ids stand in a label: only words of the program, of which there are few.

mod own;
mod requests;
mod serve;

pub use requests::count_requests;
pub use serve::listen;

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use futures_util::future::LocalBoxFuture;
use prometheus::{Gauge, Histogram, HistogramOpts, HistogramVec, IntCounterVec, Opts, Registry, TextEncoder};

use super::clock::Clock;
use super::ctx::Ctx;
use super::errors::{Problem, Result};

/// Seconds: a page or a call that takes longer than the last is too slow, however much longer.
const REQUEST_SECONDS: [f64; 9] = [0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 5.0];
/// Seconds, from the lock to the commit.
const APPEND_SECONDS: [f64; 10] = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 1.0, 5.0];
/// Seconds: what others' writes may keep a push waiting is 0.02.
const WAIT_SECONDS: [f64; 8] = [0.001, 0.0025, 0.005, 0.01, 0.02, 0.05, 0.25, 1.0];

/// The figures of this process.
pub struct Metrics {
    registry: Registry,
    requests: HistogramVec,
    accepted: IntCounterVec,
    refused: IntCounterVec,
    appends: Histogram,
    waits: HistogramVec,
    job_failures: IntCounterVec,
    read: Mutex<BTreeMap<&'static str, Gauge>>,
}

/// A figure that is read when somebody looks.
pub struct Reading {
    /// Its name, without the beginning that all have.
    pub name: &'static str,
    /// What it is.
    pub help: &'static str,
    /// How much.
    pub value: f64,
}

impl Reading {
    /// A number of something.
    #[allow(clippy::cast_precision_loss, reason = "nobody counts so far that it matters")]
    pub fn count(name: &'static str, help: &'static str, count: u64) -> Self {
        Self { name, help, value: count as f64 }
    }
}

/// Reads figures of an area.
pub type ReadFn = for<'a> fn(&'a Ctx) -> LocalBoxFuture<'a, Result<Vec<Reading>>>;

/// The areas that have figures to read; set once, in `app.rs`.
#[derive(Default)]
pub struct Readings(pub Vec<ReadFn>);

/// Measures how long something takes: a figure, and no fact that anything rests on.
#[derive(Clone, Copy, Debug)]
pub struct Stopwatch(Instant);

impl Stopwatch {
    /// From now.
    pub fn begin() -> Self {
        Self(Instant::now())
    }

    /// Until now.
    pub fn took(self) -> Duration {
        self.0.elapsed()
    }
}

impl Default for Metrics {
    fn default() -> Self {
        let counters = |name: &str, help: &str, labels: &[&str]| {
            IntCounterVec::new(Opts::new(name, help), labels).expect("a name and labels that may be")
        };
        let seconds =
            |name: &str, help: &str, steps: &[f64]| HistogramOpts::new(name, help).buckets(steps.to_vec());
        let of_requests =
            seconds("tarn_http_request_seconds", "Requests, by how long they took.", &REQUEST_SECONDS);
        let of_appends = seconds(
            "tarn_append_seconds",
            "Appends to a stream, by how long they took from the lock to the commit.",
            &APPEND_SECONDS,
        );
        let of_waits = seconds(
            "tarn_append_wait_seconds",
            "Appends to a stream, by how long others' writes kept them waiting before they had their lock.",
            &WAIT_SECONDS,
        );
        let metrics = Self {
            registry: Registry::new(),
            requests: HistogramVec::new(of_requests, &["method", "route", "status"])
                .expect("labels that may be"),
            accepted: counters("tarn_ops_accepted_total", "Ops newly accepted.", &["way"]),
            refused: counters("tarn_ops_refused_total", "Ops refused.", &["way", "problem"]),
            appends: Histogram::with_opts(of_appends).expect("steps that rise"),
            waits: HistogramVec::new(of_waits, &["way"]).expect("labels that may be"),
            job_failures: counters(
                "tarn_job_failures_total",
                "Failures of queued work; each is tried again.",
                &["kind"],
            ),
            read: Mutex::default(),
        };
        let start =
            Gauge::new("process_start_time_seconds", "When this process began, in seconds since 1970.");
        let start = start.expect("a name that may be");
        start.set(seconds_of(Clock::default().now_ms()));
        let version = Opts::new("tarn_build_info", "Which version runs; always 1.")
            .const_label("version", env!("CARGO_PKG_VERSION"));
        let version = Gauge::with_opts(version).expect("a name that may be");
        version.set(1.0);
        let all: [Box<dyn prometheus::core::Collector>; 8] = [
            Box::new(metrics.requests.clone()),
            Box::new(metrics.accepted.clone()),
            Box::new(metrics.refused.clone()),
            Box::new(metrics.appends.clone()),
            Box::new(metrics.waits.clone()),
            Box::new(metrics.job_failures.clone()),
            Box::new(start),
            Box::new(version),
        ];
        for one in all {
            metrics.registry.register(one).expect("each name is there once");
        }
        metrics
    }
}

#[allow(clippy::cast_precision_loss, reason = "milliseconds of this age fit")]
fn seconds_of(ms: i64) -> f64 {
    ms as f64 / 1000.0
}

impl Metrics {
    /// Ops that came into a stream one way.
    pub fn ops_accepted(&self, way: &str, count: u64) {
        self.accepted.with_label_values(&[way]).inc_by(count);
    }

    /// An op that was refused with the problem of this code.
    pub fn op_refused(&self, way: &str, code: &str) {
        self.refused.with_label_values(&[way, code]).inc();
    }

    /// An append that is committed.
    pub fn appended(&self, took: Duration) {
        self.appends.observe(took.as_secs_f64());
    }

    /// How long an append waited for its lock.
    pub fn append_waited(&self, way: &str, waited: Duration) {
        self.waits.with_label_values(&[way]).observe(waited.as_secs_f64());
    }

    /// Queued work of this kind failed.
    pub fn job_failed(&self, kind: &str) {
        self.job_failures.with_label_values(&[kind]).inc();
    }

    fn set(&self, reading: &Reading) -> Result<(), prometheus::Error> {
        let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        if !read.contains_key(reading.name) {
            let gauge = Gauge::new(reading.name, reading.help)?;
            self.registry.register(Box::new(gauge.clone()))?;
            read.insert(reading.name, gauge);
        }
        if let Some(gauge) = read.get(reading.name) {
            gauge.set(reading.value);
        }
        Ok(())
    }

    fn text(&self) -> Result<String> {
        let text = TextEncoder::new().encode_to_string(&self.registry.gather());
        text.map_err(|err| Problem::failed("writing the metrics", err))
    }
}

/// All figures as they are now, as text. Those of a database that does not answer stay as they were, and it is said.
pub async fn page(ctx: &Ctx) -> Result<String> {
    let metrics = ctx.part::<Metrics>();
    // what never failed is told as nought, so that the first failure is seen to be one
    for kind in ctx.jobs.kinds() {
        metrics.job_failures.with_label_values(&[kind]);
    }
    let mut answers = true;
    for read in std::iter::once(&(own::readings as ReadFn)).chain(&ctx.part::<Readings>().0) {
        match read(ctx).await {
            Ok(readings) => {
                for reading in &readings {
                    metrics.set(reading).map_err(|err| Problem::failed("a figure", err))?;
                }
            }
            Err(problem) => {
                tracing::warn!(%problem, "figures could not be read");
                answers = false;
            }
        }
    }
    let help = "Whether the database answered when this page was made.";
    let answers = Reading::count("tarn_database_answers", help, u64::from(answers));
    metrics.set(&answers).map_err(|err| Problem::failed("a figure", err))?;
    metrics.text()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_counted_is_told() {
        let metrics = Metrics::default();
        metrics.ops_accepted("push", 3);
        metrics.op_refused("push", "id-taken");
        metrics.appended(Duration::from_millis(7));
        for value in [4, 5] {
            metrics.set(&Reading::count("tarn_test", "A test.", value)).expect("set");
        }
        let text = metrics.text().expect("text");
        for line in [
            "tarn_ops_accepted_total{way=\"push\"} 3",
            "tarn_ops_refused_total{problem=\"id-taken\",way=\"push\"} 1",
            "tarn_append_seconds_bucket{le=\"0.01\"} 1",
            "tarn_append_seconds_bucket{le=\"0.005\"} 0",
            "tarn_test 5",
        ] {
            assert!(text.lines().any(|is| is == line), "{line} is not in:\n{text}");
        }
    }
}
