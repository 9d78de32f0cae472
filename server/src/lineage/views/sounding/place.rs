//! Where everything stands from left to right. A library orders the layers so that few lines cross, among them the lines
//! that pass a layer; how deep everything stands is decided before, how near everything stands after.

use std::collections::BTreeMap;

use dagre::graph::{Graph, GraphOptions};
use dagre::layout::types::LabelPos;
use dagre::{EdgeLabel, LayoutOptions, NodeLabel, Point, layout};
use tarn_domain::streams::NodeId;

use super::block::Block;
use super::settle::{Join, Member, Room, settle};
use super::{Met, Sheet, Side, Sounding, block};

/// Layers are this high to the library, and as far apart; only its left and right are used.
const LAYER: f64 = 10.0;

/// A line from a brood to one of its parents.
pub struct Descent {
    /// The young.
    pub child: NodeId,
    /// The parent.
    pub parent: NodeId,
    /// Of which of the child's two ends: the fathers', the mothers'.
    pub port: usize,
    /// Whether the parent is one of several candidates.
    pub open: bool,
    /// Where it passes the layers between the two, tenths of a px.
    pub passes: Vec<i32>,
}

/// Everything in its place, tenths of a px.
pub struct Placed {
    /// The middle of each.
    pub middles: BTreeMap<NodeId, i32>,
    /// The lines.
    pub descents: Vec<Descent>,
    /// How wide it is all together.
    pub width: i32,
}

/// What stands in a layer.
#[derive(Clone, Copy)]
enum Stands {
    Node(NodeId),
    /// So many layers below where the line begins.
    Pass(usize, usize),
}

/// Places what is drawn.
pub fn place(
    sounding: &Sounding,
    drawn: &BTreeMap<NodeId, usize>,
    blocks: &BTreeMap<NodeId, Block>,
    sheet: &Sheet,
) -> Placed {
    let mut descents = descents(sounding, drawn);
    let layers = ordered(drawn, blocks, &descents, sheet);
    // where each stands: layer and place in it
    let mut at_node: BTreeMap<NodeId, usize> = BTreeMap::new();
    let mut at_pass: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for (place, stands) in layers.iter().flat_map(|layer| layer.iter().enumerate()) {
        match *stands {
            (Stands::Node(node), _) => drop(at_node.insert(node, place)),
            (Stands::Pass(descent, step), _) => drop(at_pass.insert((descent, step), place)),
        }
    }
    let mut joins: Vec<Vec<Join>> = (1..layers.len()).map(|_| Vec::new()).collect();
    for (id, descent) in descents.iter().enumerate() {
        let (from, to) = (drawn[&descent.child], drawn[&descent.parent]);
        for layer in from..to {
            let upper = if layer == from { at_node[&descent.child] } else { at_pass[&(id, layer - from)] };
            let lower =
                if layer + 1 == to { at_node[&descent.parent] } else { at_pass[&(id, layer + 1 - from)] };
            let port = blocks.get(&descent.child).filter(|_| layer == from);
            let port = port.map_or(0, |block| block.ports(sheet)[descent.port]);
            joins[layer].push(Join { upper, lower, port });
        }
    }
    let member = |(stands, x): &(Stands, i32)| match stands {
        Stands::Node(node) => {
            let half = blocks.get(node).map_or(0, |block| (block.width + 1) / 2);
            Member { x: *x, half, is_words: true }
        }
        Stands::Pass(..) => Member { x: *x, half: 0, is_words: false },
    };
    let mut members: Vec<Vec<Member>> =
        layers.iter().map(|layer| layer.iter().map(member).collect()).collect();
    let width = (sheet.width - sheet.left - sheet.right) * 10;
    let room = Room { apart: sheet.apart * 10, aside: sheet.aside * 10, width };
    let width = settle(&mut members, &joins, room);
    let mut middles = BTreeMap::new();
    for ((stands, _), member) in layers.iter().flatten().zip(members.iter().flatten()) {
        match *stands {
            Stands::Node(node) => drop(middles.insert(node, member.x)),
            // a layer is gone through before the one below it, so they come in their order
            Stands::Pass(descent, _) => descents[descent].passes.push(member.x),
        }
    }
    Placed { middles, descents, width }
}

/// The layers in the order that the library gives them.
fn ordered(
    drawn: &BTreeMap<NodeId, usize>,
    blocks: &BTreeMap<NodeId, Block>,
    descents: &[Descent],
    sheet: &Sheet,
) -> Vec<Vec<(Stands, i32)>> {
    let mut graph = Graph::with_options(GraphOptions { directed: true, multigraph: true, compound: false });
    let mut nodes: Vec<(usize, NodeId)> = drawn.iter().map(|(node, depth)| (*depth, *node)).collect();
    nodes.sort_unstable();
    for (_, node) in &nodes {
        let width = blocks.get(node).map_or(0, |block| block.width);
        let label = NodeLabel { width: f64::from(width), height: LAYER, ..NodeLabel::default() };
        graph.set_node(node.to_string(), Some(label));
    }
    for descent in descents {
        let deeper = drawn[&descent.parent] - drawn[&descent.child];
        let minlen = i32::try_from(deeper).unwrap_or(1);
        let label = EdgeLabel { minlen, labelpos: LabelPos::Center, ..EdgeLabel::default() };
        let [child, parent] = [descent.child, descent.parent].map(|node| node.to_string());
        graph.set_edge(child, parent, Some(label), Some(name(descent.port)));
    }
    let options = LayoutOptions {
        nodesep: f64::from(sheet.apart * 10),
        edgesep: f64::from(sheet.aside * 10),
        ranksep: LAYER,
        ..LayoutOptions::default()
    };
    layout(&mut graph, Some(options));
    let deepest = drawn.values().copied().max().unwrap_or(0);
    let mut layers: Vec<Vec<(Stands, i32)>> = (0..=deepest).map(|_| Vec::new()).collect();
    for (depth, node) in nodes {
        let x = graph.node(&node.to_string()).and_then(|label| label.x).unwrap_or(0.0);
        layers[depth].push((Stands::Node(node), tenths(x)));
    }
    for (id, descent) in descents.iter().enumerate() {
        let [child, parent] = [descent.child, descent.parent].map(|node| node.to_string());
        let points = graph.edge(&child, &parent, Some(name(descent.port))).map(|edge| &edge.points[..]);
        let from = drawn[&descent.child];
        let between = layers.iter_mut().enumerate().take(drawn[&descent.parent]).skip(from + 1);
        for (depth, layer) in between {
            layer.push((Stands::Pass(id, depth - from), passes_at(points.unwrap_or(&[]), depth)));
        }
    }
    for layer in &mut layers {
        // stable: where two stand at one place, the order in which they were told decides
        layer.sort_by_key(|(_, x)| *x);
    }
    layers
}

fn name(port: usize) -> &'static str {
    if port == 0 { "fathers" } else { "mothers" }
}

/// The lines that are drawn: none to what is not known, and none where the records go in a circle.
fn descents(sounding: &Sounding, drawn: &BTreeMap<NodeId, usize>) -> Vec<Descent> {
    let mut all = Vec::new();
    let mut children: Vec<_> = drawn.iter().map(|(node, depth)| (*depth, *node)).collect();
    children.sort_unstable();
    for (depth, child) in children {
        let Some(Met::Brood(brood)) = sounding.nodes.get(&child) else { continue };
        let mut lines = |port: usize, side: &Side| {
            let deeper = |parent: &NodeId| drawn.get(parent).is_some_and(|at| *at > depth);
            all.extend(side.nodes().into_iter().filter(deeper).map(|parent| Descent {
                child,
                parent,
                port,
                open: side.is_open(),
                passes: Vec::new(),
            }));
        };
        lines(0, &brood.fathers);
        if !block::together(brood) {
            lines(1, &brood.mothers);
        }
    }
    all
}

/// Where a line passes a layer.
fn passes_at(points: &[Point], depth: usize) -> i32 {
    let y = LAYER / 2.0 + f64::from(u32::try_from(depth).unwrap_or(u32::MAX)) * 2.0 * LAYER;
    let part = points.windows(2).find(|ends| ends[0].y <= y && y <= ends[1].y);
    let x = match part {
        Some([a, b]) if b.y > a.y => a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y),
        Some([a, _]) => a.x,
        _ => points.last().map_or(0.0, |end| end.x),
    };
    tenths(x)
}

fn tenths(x: f64) -> i32 {
    // the library was told tenths; what it gives is far below what an i32 holds
    x.round() as i32
}
