//! Bringing the local file and the server together: push, then pull, for each stream, until neither has news. The rules
//! are those of the design (streams, ops and sync); HTTP is `remote`'s, SQL the store's.

mod answers;
mod pull;
mod push;
pub mod rooms;
pub mod session;
pub mod watch;

use serde_json::json;
use tarn_domain::streams::{At, DeviceId, EpochId};

use crate::clock;
use crate::failure::{Exit, Failure, Outcome};
use crate::remote::{Remote, Trouble};
use crate::store::{GONE, OpState, StoreError, StreamRow};
use crate::tarn::Tarn;

/// What a sync did.
#[derive(Debug, Clone, Default)]
pub struct Report {
    /// Entries the server took.
    pub pushed: usize,
    /// Entries that came.
    pub pulled: usize,
    /// Entries the server refused this time.
    pub refused: usize,
    /// Entries that got another clock.
    pub mended: usize,
    /// By how much the clock was off, if entries were mended.
    pub clock_off_ms: i64,
    /// Whether the server asked to wait with more.
    pub later: bool,
    /// From when on it takes more, if it said so.
    pub again_at: Option<At>,
    /// Streams whose history had changed.
    pub histories: usize,
    /// Streams that could not be synced, and why.
    pub failures: Vec<Failure>,
}

/// A push and pull may wake one another so many times in one sync; the next sync goes on.
const MOST_ROUNDS: usize = 60;

/// Syncs every stream.
///
/// # Errors
/// No network, no login, a full disk: what was done until then stays.
pub fn all(tarn: &mut Tarn) -> Outcome<Report> {
    let out = tarn.out.clone();
    let _held = tarn.folder.lock_sync(|| out.say("Another sync is running; this one waits for it."))?;
    let mut remote = session::open(tarn)?;
    let listed = rooms::meet(tarn, &mut remote)?;
    let mut report = Report::default();
    for stream in tarn.store.streams()? {
        let known = listed.contains(&stream.id);
        match one(tarn, &mut remote, &stream, known, &mut report) {
            // the other streams may be well
            Err(failure) if failure.exit == Exit::Refused => {
                let says = format!("{}: {failure}", stream.name);
                report.failures.push(Failure { says, ..failure });
            }
            other => other?,
        }
    }
    Ok(report)
}

fn one(
    tarn: &mut Tarn,
    remote: &mut Remote,
    stream: &StreamRow,
    listed: bool,
    report: &mut Report,
) -> Outcome {
    if stream.rights == GONE {
        return Ok(());
    }
    if !listed && rooms::announce(tarn, remote, stream)? == rooms::Announced::Gone {
        return Ok(());
    }
    let mut epoch = register(tarn, remote, stream)?;
    for _ in 0..MOST_ROUNDS {
        let now = fresh(tarn, stream)?;
        // against another epoch nothing is pushed before the pull has said what stands
        let pushed = if now.epoch == Some(epoch) && now.rights == "write" {
            push::all(tarn, remote, &now, report)
        } else {
            Ok(0)
        };
        let pushed = match pushed {
            // a push that is refused whole says nothing against a pull, which may bring what puts it right
            Err(failure) if failure.exit == Exit::Refused => {
                pull::all(tarn, remote, stream, report)?;
                return Err(failure);
            }
            other => other?,
        };
        match pull::all(tarn, remote, stream, report)? {
            pull::End::Changed => {
                report.histories += 1;
                epoch = register(tarn, remote, stream)?;
            }
            pull::End::Done(brought) => {
                let now = fresh(tarn, stream)?;
                // what waited is pending again if the pull brought something
                let left = !tarn.store.outgoing(&now, 1)?.is_empty() && now.rights == "write";
                if !left || report.later || (pushed == 0 && brought == 0) {
                    break;
                }
            }
        }
    }
    Ok(())
}

fn fresh(tarn: &Tarn, stream: &StreamRow) -> Outcome<StreamRow> {
    Ok(tarn.store.stream(stream.id)?)
}

/// Registers this device for the stream and its present epoch, which it returns.
fn register(tarn: &mut Tarn, remote: &mut Remote, stream: &StreamRow) -> Outcome<EpochId> {
    let mut device = fresh(tarn, stream)?.device;
    for _ in 0..2 {
        let name = json!({ "name": "tarn" });
        match remote.put(&format!("streams/{}/devices/{device}", stream.id), &name) {
            Ok(answer) => {
                let odd = || Failure::needs_network("the server's answer to a registration can't be read");
                let epoch: EpochId = answer["epoch"].as_str().and_then(|e| e.parse().ok()).ok_or_else(odd)?;
                let version = answer["ops_version"].as_u64().and_then(|v| u32::try_from(v).ok()).unwrap_or(0);
                let measured = answer["now"].as_str().and_then(|now| now.parse().ok());
                let machine_ms = tarn.machine_ms();
                tarn.store.write::<_, StoreError>(|work| {
                    work.registered(stream.id, epoch, version)?;
                    measure(work, measured, machine_ms)
                })?;
                return Ok(epoch);
            }
            // a folder that was copied from another account's
            Err(Trouble::Problem(problem)) if problem.code() == "device-not-yours" => {
                device = DeviceId(clock::new_id());
                tarn.store.write::<_, StoreError>(|work| work.set_device(stream.id, device))?;
            }
            Err(trouble) => return Err(trouble.into()),
        }
    }
    Err(Failure::refused(format!("this device can't be registered for {}", stream.name)))
}

/// A clock that had to be corrected is measured again at every sync; where the server does not say what time it is,
/// the correction ends and a push says whether it is still needed.
fn measure(
    work: &crate::store::Work<'_>,
    server: Option<tarn_domain::streams::Clock>,
    machine_ms: i64,
) -> Result<(), StoreError> {
    if work.clock_correction_ms()? == 0 {
        return Ok(());
    }
    let off = server.map_or(0, |now| now.ms() - machine_ms);
    work.set_clock_correction_ms(if off.abs() < 60_000 { 0 } else { off })
}

/// How many entries of all streams stand so.
///
/// # Errors
/// The file.
pub fn standing(tarn: &Tarn, state: OpState) -> Outcome<u64> {
    let mut sum = 0;
    for stream in tarn.store.streams()? {
        sum += tarn.store.open_count(&stream, state)?;
    }
    Ok(sum)
}
