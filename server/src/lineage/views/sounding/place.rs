//! Where everything stands from left to right: by a library that orders the layers so that few lines cross, and keeps
//! room for lines that pass a layer. How deep everything stands is decided before.

use std::collections::BTreeMap;

use dagre::graph::{Graph, GraphOptions};
use dagre::{EdgeLabel, LayoutOptions, NodeLabel, Point, layout};
use tarn_domain::streams::NodeId;

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

/// Places what is drawn; `widths` in tenths of a px.
pub fn place(
    sounding: &Sounding,
    drawn: &BTreeMap<NodeId, usize>,
    widths: &BTreeMap<NodeId, i32>,
    sheet: &Sheet,
) -> Placed {
    let mut graph = Graph::with_options(GraphOptions { directed: true, multigraph: true, compound: false });
    for (node, wide) in in_order(drawn, widths) {
        let label = NodeLabel { width: f64::from(wide), height: LAYER, ..NodeLabel::default() };
        graph.set_node(node.to_string(), Some(label));
    }
    let mut descents = descents(sounding, drawn);
    for descent in &descents {
        let deeper = drawn[&descent.parent] - drawn[&descent.child];
        let label = EdgeLabel {
            minlen: i32::try_from(deeper).unwrap_or(1),
            labelpos: dagre::layout::types::LabelPos::Center,
            ..EdgeLabel::default()
        };
        let [child, parent] = [descent.child, descent.parent].map(|node| node.to_string());
        graph.set_edge(child, parent, Some(label), Some(name(descent.port)));
    }
    let (apart, aside) = (f64::from(sheet.apart * 10), f64::from(sheet.aside * 10));
    let options = LayoutOptions {
        nodesep: apart,
        // the library keeps half of each between a node and a line that passes it
        edgesep: (2.0 * aside - apart).max(60.0),
        ranksep: LAYER,
        ..LayoutOptions::default()
    };
    layout(&mut graph, Some(options));
    let mut middles = BTreeMap::new();
    for node in drawn.keys() {
        let x = graph.node(&node.to_string()).and_then(|label| label.x).unwrap_or(0.0);
        middles.insert(*node, tenths(x));
    }
    for descent in &mut descents {
        let [child, parent] = [descent.child, descent.parent].map(|node| node.to_string());
        let points = graph.edge(&child, &parent, Some(name(descent.port))).map(|edge| &edge.points[..]);
        let between = drawn[&descent.child] + 1..drawn[&descent.parent];
        descent.passes = between.map(|depth| passes_at(points.unwrap_or(&[]), depth)).collect();
    }
    from_zero(middles, descents, widths)
}

/// The order in which the library hears of them, which decides where it could go either way.
fn in_order<'a>(
    drawn: &'a BTreeMap<NodeId, usize>,
    widths: &'a BTreeMap<NodeId, i32>,
) -> impl Iterator<Item = (NodeId, i32)> {
    let mut all: Vec<_> = drawn.iter().map(|(node, depth)| (*depth, *node)).collect();
    all.sort_unstable();
    all.into_iter().map(|(_, node)| (node, widths.get(&node).copied().unwrap_or(0)))
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

/// Moves everything so that it begins at 0.
fn from_zero(
    mut middles: BTreeMap<NodeId, i32>,
    mut descents: Vec<Descent>,
    widths: &BTreeMap<NodeId, i32>,
) -> Placed {
    let half = |node: &NodeId| widths.get(node).map_or(0, |wide| (wide + 1) / 2);
    let passes = || descents.iter().flat_map(|descent| descent.passes.iter().copied());
    let least = middles.iter().map(|(node, x)| x - half(node)).chain(passes()).min().unwrap_or(0);
    let most = middles.iter().map(|(node, x)| x + half(node)).chain(passes()).max().unwrap_or(0);
    for x in middles.values_mut() {
        *x -= least;
    }
    for x in descents.iter_mut().flat_map(|descent| descent.passes.iter_mut()) {
        *x -= least;
    }
    Placed { middles, descents, width: most - least }
}
