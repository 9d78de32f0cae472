//! What follows from ops that were taken in: their states, decisions that the areas make of them, the rows that change.

use futures_util::future::join;
use tarn_domain::streams::{Acceptance, At, DeviceId};

use super::append::{Accepted, Incoming, Pass};
use super::areas::{Areas, Changed, Following};
use super::intake;
use super::path::Path;
use super::projections::project;
use crate::platform::{Result, write::Write};
use crate::streams::store::{self, Row, cache::Held};

impl Pass {
    /// Makes the states, takes in the decisions that follow from what was accepted, and keeps the rows that change and
    /// the head.
    pub(super) async fn follow(
        &mut self,
        w: &Write,
        areas: &Areas,
        held: &mut Held,
        row: &mut Row,
    ) -> Result<()> {
        self.refold(held);
        self.decide(w, areas, held, row).await?;
        self.rows.hand_out(row);
        row.greatest = row.greatest.max(held.memory.greatest_clock());
        let before = std::mem::take(&mut self.before);
        let changed: Vec<Changed> = before
            .into_iter()
            .filter_map(|(entity, before)| {
                Some(Changed { entity, before, after: held.memory.state(entity)?.clone() })
            })
            .collect();
        let head =
            async { if self.accepted.is_empty() { Ok(()) } else { store::set_head(w.tx(), row).await } };
        let (projected, head) =
            join(project(w, areas, (self.stream, &held.memory), &changed, false), head).await;
        projected.and(head)
    }

    /// Decisions that follow from what was accepted.
    async fn decide(&mut self, w: &Write, areas: &Areas, held: &mut Held, row: &Row) -> Result<()> {
        // What happened elsewhere was decided there.
        if matches!(self.path, Path::Brought(_)) {
            return Ok(());
        }
        let mut next = 0;
        while let Some(Accepted { op, .. }) = self.accepted.get(next) {
            next += 1;
            let accepted = held.memory.entry(op.id).and_then(|e| e.accepted);
            let by = accepted.map_or(self.path.by(), |a| a.by);
            let mut decided = Vec::new();
            let following = Following {
                stream: self.stream,
                memory: &held.memory,
                op,
                by,
                is_back: accepted.is_none_or(|a| a.received != self.received),
                is_last: next == self.accepted.len(),
                now: At::from_seconds(w.now.div_euclid(1000)),
                tx: w.tx(),
            };
            for follower in &areas.followers {
                decided.extend(follower(&following).await?);
            }
            for news in &areas.news {
                self.jobs.extend(news(&following).await?);
            }
            if decided.is_empty() {
                continue;
            }
            for follow in decided {
                if held.memory.entry(follow.id).is_some() {
                    continue;
                }
                self.jobs.extend(follow.job);
                let incoming = Incoming { id: follow.id, at: Some(follow.at), body: follow.body };
                let greatest = held.memory.greatest_clock().max(row.greatest);
                let ready = intake::write(incoming, DeviceId::of_stream(self.stream), greatest, w.now);
                intake::is_readable(&ready, true)?;
                self.take(held, row, ready, Acceptance { by, received: self.received, decision: true });
            }
            self.refold(held);
        }
        Ok(())
    }
}
