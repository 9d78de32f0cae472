//! How much of the slip's ancestry goes into the record of an arrival: as much as an op may hold, the nearest first.

use std::collections::HashMap;

use serde_json::json;
use tarn_domain::lineage;
use tarn_domain::parcels::ParcelArrived;
use tarn_domain::rooms::Row;
use tarn_domain::streams::{LARGEST_OP, NodeId, canonical};

/// Left free for the envelope.
const SLACK: usize = 2 * 1024;

/// Puts the copied ancestry in order, those nearest to the packed fish first, and leaves out what does not fit into an
/// op. Returns how many ancestors were left out.
pub fn fit(body: &mut ParcelArrived, packed: &[Row]) -> usize {
    let all = std::mem::take(&mut body.ancestry);
    let by_node: HashMap<NodeId, _> = all.iter().map(|a| (a.node, a)).collect();
    let own = packed.iter().filter_map(|row| row.node.id());
    let mut nearest = lineage::ancestry(own, |node| by_node.get(&node).map(|a| (*a).clone()));
    // fish that are not told apart name no node; then the slip's own order is as good as any
    let others: Vec<_> = all.iter().filter(|a| nearest.iter().all(|n| n.node != a.node)).cloned().collect();
    nearest.extend(others);
    let whole = nearest.len();
    let mut left = (LARGEST_OP - SLACK).saturating_sub(canonical::text(&json!(body)).len());
    for ancestor in nearest {
        let Some(less) = left.checked_sub(canonical::text(&json!(ancestor)).len() + 1) else { break };
        left = less;
        body.ancestry.push(ancestor);
    }
    whole - body.ancestry.len()
}

#[cfg(test)]
mod tests {
    use tarn_domain::lineage::{Ancestor, BroodCopy, Draw, Kin, ShareCopy, SideCopy};
    use tarn_domain::rooms::{Count, Node, Sex};
    use tarn_domain::streams::{ParcelId, StockId};
    use uuid::Uuid;

    use super::*;

    fn node(n: u128) -> NodeId {
        NodeId(Uuid::from_u128(n))
    }

    fn arrived(ancestry: Vec<Ancestor>) -> ParcelArrived {
        ParcelArrived {
            parcel: ParcelId(Uuid::nil()),
            stock: StockId(Uuid::nil()),
            name: Some("Blue".into()),
            species: None,
            form: None,
            tank: None,
            alive: Vec::new(),
            dead: Vec::new(),
            ancestry,
        }
    }

    fn packed(n: u128) -> Vec<Row> {
        vec![Row { node: Node::Of(node(n)), sex: Sex::Unsexed, n: Count::of(3).expect("few"), about: false }]
    }

    /// A line of broods, each the child of the next, in the order of `ns`.
    fn line(ns: impl Iterator<Item = u128>) -> Vec<Ancestor> {
        let of = |n| {
            Some(SideCopy { of: vec![ShareCopy { node: node(n + 1), n: 1, weight: None }], draw: Draw::One })
        };
        ns.map(|n| {
            let brood = BroodCopy {
                code: Some(format!("B{n}")),
                species: Some("Poecilia reticulata".into()),
                month: Some("2026-03".into()),
                sires: of(n),
                dams: of(n),
                ..BroodCopy::default()
            };
            Ancestor::of(node(n), Kin::Brood(Box::new(brood)))
        })
        .collect()
    }

    #[test]
    fn what_fits_is_copied_whole() {
        let mut body = arrived(line(1..=10));
        assert_eq!((fit(&mut body, &packed(1)), body.ancestry), (0, line(1..=10)));
    }

    #[test]
    fn of_a_long_line_the_nearest_are_copied() {
        let mut body = arrived(line((1..=200).rev()));
        let left_out = fit(&mut body, &packed(1));
        let kept = body.ancestry.len();
        assert!(left_out > 0 && kept + left_out == 200);
        assert_eq!(body.ancestry, line(1..=u128::try_from(kept).expect("few")));
        let size = canonical::text(&json!(body)).len();
        assert!(size <= LARGEST_OP - SLACK && size > LARGEST_OP - SLACK - 500, "{size}");
    }

    #[test]
    fn without_a_node_to_begin_from_the_order_is_the_slip_s() {
        let mut body = arrived(line(1..=200));
        assert!(fit(&mut body, &[]) > 0);
        assert_eq!(body.ancestry[0].node, node(1));
    }
}
