//! Pushing what is pending: first what comes back after a restore, then the rest in the order of the clocks.

use tarn_domain::streams::Clock;

use super::Report;
use super::answers::{PushAnswer, body, judge};
use crate::failure::{Failure, Outcome};
use crate::problem::Problem;
use crate::remote::{Remote, Trouble};
use crate::store::{Answer, OpState, StoreError, StreamRow};
use crate::tarn::Tarn;

/// So many ops at once, halved while the server finds it too much; of those that come back up to twice as many.
const BATCH: usize = 500;
const MOST_MENDINGS: usize = 4;

/// Pushes all that is pending. Returns how many ops the server answered.
///
/// # Errors
/// The server's no to a whole push, or that there is no server.
pub fn all(tarn: &mut Tarn, remote: &mut Remote, stream: &StreamRow, report: &mut Report) -> Outcome<usize> {
    let (mut batch, mut mendings, mut pushed) = (BATCH, 0, 0);
    let pending = tarn.store.open_count(stream, OpState::Pending)?;
    let bar = (pending > BATCH as u64).then(|| tarn.out.bar(&format!("{}: pushing", stream.name), pending));
    loop {
        let ops = tarn.store.outgoing(stream, batch)?;
        if ops.is_empty() {
            return Ok(pushed);
        }
        bar.iter().for_each(|bar| bar.done(pushed as u64));
        match remote.post_text::<PushAnswer>(&format!("streams/{}/ops", stream.id), body(&ops)) {
            Ok(answer) if Some(answer.epoch) != stream.epoch => return Ok(pushed),
            Ok(answer) => {
                let answers = judge(&ops, answer);
                let later = answers.iter().any(|a| matches!(a.answer, Answer::Later));
                let silent = answers.is_empty();
                for answered in &answers {
                    match answered.answer {
                        Answer::Seq(_) | Answer::Taken(_) => report.pushed += 1,
                        Answer::No(_) => report.refused += 1,
                        _ => {}
                    }
                }
                pushed += answers.len();
                tarn.store.write::<_, StoreError>(|work| work.answer(stream, &answers))?;
                if later || silent {
                    report.later = true;
                    return Ok(pushed);
                }
            }
            Err(Trouble::Problem(problem)) => match (problem.code(), problem.status) {
                ("clock-ahead", _) if mendings < MOST_MENDINGS => {
                    mend(tarn, stream, &problem, report)?;
                    mendings += 1;
                }
                (_, 413) if batch > 1 => batch = (batch.min(ops.len()) / 2).max(1),
                // so many it still takes today
                ("quota", _) if (1..ops.len() as u64).contains(&left(&problem)) => {
                    batch = usize::try_from(left(&problem)).unwrap_or(1);
                }
                (_, 429) => {
                    report.later = true;
                    report.again_at = problem.value["again_at"].as_str().and_then(|at| at.parse().ok());
                    return Ok(pushed);
                }
                _ => return Err(Trouble::Problem(problem).into()),
            },
            Err(trouble) => return Err(trouble.into()),
        }
    }
}

fn left(problem: &Problem) -> u64 {
    problem.value["left"].as_u64().unwrap_or(0)
}

fn mend(tarn: &mut Tarn, stream: &StreamRow, problem: &Problem, report: &mut Report) -> Outcome {
    let clock = |name: &str| -> Outcome<Clock> {
        let text = problem.value[name].as_str().and_then(|text| text.parse().ok());
        text.ok_or_else(|| Failure::refused("the server finds the clock ahead, but does not say by how much"))
    };
    let (now, limit) = (clock("now")?, clock("limit")?);
    let machine_ms = tarn.machine_ms();
    let mended =
        tarn.store.write::<_, StoreError>(|work| work.mend_clocks(stream, now, limit, machine_ms))?;
    if mended.ops == 0 {
        return Err(Failure::refused("the server finds an entry's clock ahead that can't be mended here"));
    }
    report.mended += mended.ops;
    report.clock_off_ms = mended.correction_ms;
    Ok(())
}
