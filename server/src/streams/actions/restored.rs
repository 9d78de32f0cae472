//! After a restore: every stream goes on in a new epoch, and remembers up to where it continues the old one.

use tarn_domain::streams::EpochId;

use crate::platform::Result;
use crate::platform::write::Write;
use crate::streams::store;

/// Begins a new epoch in every stream; gives how many there are.
pub async fn begin_new_epochs(w: &mut Write) -> Result<usize> {
    let all = store::streams_all(w.tx()).await?;
    for row in &all {
        let epoch = w.ctx().ids.random_id();
        store::begin_epoch(w.tx(), row, EpochId(epoch)).await?;
        w.audit("streams", format!("stream {} goes on in epoch {epoch} from {}", row.id.0, row.head));
    }
    Ok(all.len())
}
