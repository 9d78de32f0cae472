//! Every query over broods and the rooms that hold copies of them.

pub mod groups;
pub mod published;

use std::collections::BTreeMap;

use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use tarn_domain::lineage::BroodState;
use tarn_domain::streams::{NodeId, StreamId};
use uuid::Uuid;

use crate::entities::{brood_copies, broods};
use crate::platform::{Result, errors::Problem};

/// Bind variables of one statement.
const AT_ONCE: usize = 500;

/// The room whose word on a brood counts, and what it says.
pub struct Home {
    /// Which room.
    pub stream: StreamId,
    /// What it says.
    pub brood: BroodState,
}

/// The homes of broods: of several rooms that tell a brood under one id, the one whose record was received first.
pub async fn homes(conn: &impl ConnectionTrait, nodes: &[NodeId]) -> Result<BTreeMap<NodeId, Home>> {
    let mut all = BTreeMap::new();
    for some in nodes.chunks(AT_ONCE) {
        let rows = broods::Entity::find()
            .filter(broods::Column::Id.is_in(some.iter().map(|node| node.0)))
            .order_by_asc(broods::Column::ReceivedMs)
            .order_by_asc(broods::Column::HomeStream)
            .all(conn)
            .await?;
        for row in rows {
            let brood = serde_json::from_str(&row.body).map_err(|e| Problem::failed("reading a brood", e))?;
            let home = Home { stream: StreamId(row.home_stream), brood };
            all.entry(NodeId(row.id)).or_insert(home);
        }
    }
    Ok(all)
}

/// All rooms that tell a brood under this id, the first received first.
pub async fn tellers(conn: &impl ConnectionTrait, node: NodeId) -> Result<Vec<StreamId>> {
    let rows = broods::Entity::find()
        .select_only()
        .column(broods::Column::HomeStream)
        .filter(broods::Column::Id.eq(node.0))
        .order_by_asc(broods::Column::ReceivedMs)
        .order_by_asc(broods::Column::HomeStream)
        .into_tuple::<Uuid>()
        .all(conn)
        .await?;
    Ok(rows.into_iter().map(StreamId).collect())
}

/// What is left of a room that was removed: its broods, under ids alone, since others have fish of them. What it held
/// copies of, and to whom it published, goes.
pub async fn forget_room(conn: &impl ConnectionTrait, room: StreamId) -> Result<()> {
    let copies = brood_copies::Entity::delete_many().filter(brood_copies::Column::Stream.eq(room.0));
    copies.exec(conn).await?;
    published::forget(conn, room).await
}

/// The rooms that hold a copy of a brood.
pub async fn holders(conn: &impl ConnectionTrait, node: NodeId) -> Result<Vec<StreamId>> {
    let rows = brood_copies::Entity::find()
        .select_only()
        .column(brood_copies::Column::Stream)
        .distinct()
        .filter(brood_copies::Column::Node.eq(node.0))
        .order_by_asc(brood_copies::Column::Stream)
        .into_tuple::<Uuid>()
        .all(conn)
        .await?;
    Ok(rows.into_iter().map(StreamId).collect())
}
