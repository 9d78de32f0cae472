//! Draws an ancestry from the waterline down. Places are tenths of a px. Between two generations there are only lines,
//! and where one passes a generation it has room of its own: none goes through words.

use std::collections::BTreeMap;

use tarn_domain::streams::NodeId;

use super::block::{Block, Parents, lead};
use super::place::{Placed, place};
use super::{Sheet, Sounding};
use crate::platform::drawing::{Anchor, Curve, Drawing, Line, Text};

/// From the foot of the words to the line under them.
const TO_LINE: i32 = 50;
/// From that line to the foot of what hangs under it.
const TO_PARENTS: i32 = 150;
/// From there to where the lines begin.
const TO_DESCENT: i32 = 50;
/// Where a line ends above the words it leads to.
const SHORT: i32 = 10;
/// Short strokes of the gauge between two generations.
const STROKES: i32 = 3;

/// A generation: from where to where its words reach.
#[derive(Clone, Copy)]
struct Layer {
    top: i32,
    foot: i32,
}

struct Pen<'a> {
    sheet: &'a Sheet,
    blocks: BTreeMap<NodeId, Block>,
    placed: Placed,
    layers: Vec<Layer>,
    /// Where the water stands.
    surface: i32,
    drawing: Drawing,
}

/// One drawing of what has room.
pub fn drawing(sounding: &Sounding, drawn: &BTreeMap<NodeId, usize>, sheet: &Sheet) -> Drawing {
    let block = |node: &NodeId| {
        let met = sounding.nodes.get(node)?;
        Some((*node, Block::of(met, sheet, *node == sounding.of)))
    };
    let blocks: BTreeMap<NodeId, Block> = drawn.keys().filter_map(block).collect();
    let mut placed = place(sounding, drawn, &blocks, sheet);
    let shift = sheet.left * 10;
    for x in placed.middles.values_mut() {
        *x += shift;
    }
    for x in placed.descents.iter_mut().flat_map(|descent| descent.passes.iter_mut()) {
        *x += shift;
    }
    let width = (placed.width + 9) / 10 + sheet.left + sheet.right;
    let drawing = Drawing { width: width.max(sheet.width), ..Drawing::default() };
    let mut pen = Pen { sheet, blocks, placed, layers: Vec::new(), surface: 0, drawing };
    pen.layers(sounding.of, drawn);
    pen.gauge();
    for (node, depth) in drawn {
        pen.block(*node, *depth);
    }
    pen.descents(drawn);
    pen.drawing.height = pen.layers.last().map_or(0, |layer| layer.foot) / 10 + 6;
    pen.drawing
}

impl Pen<'_> {
    fn layers(&mut self, root: NodeId, drawn: &BTreeMap<NodeId, usize>) {
        let deepest = drawn.values().copied().max().unwrap_or(0);
        // wider drawings have flatter lines, which need more room to part
        let step =
            (self.sheet.step + (self.drawing.width - self.sheet.width) / 50).min(self.sheet.step * 2) * 10;
        let mut top = 40;
        for depth in 0..=deepest {
            let here =
                || drawn.iter().filter(|(_, at)| **at == depth).filter_map(|(node, _)| self.blocks.get(node));
            let above = here().map(Block::above).max().unwrap_or(0);
            let under = here().any(|block| !matches!(block.parents, Parents::None));
            let line = if depth == 0 { 130 } else { TO_LINE };
            let foot = top + above + line + if under { TO_PARENTS + TO_DESCENT } else { 20 };
            self.layers.push(Layer { top, foot });
            top = foot + step;
        }
        let above = self.blocks.get(&root).map_or(0, Block::above);
        self.surface = self.layers.first().map_or(0, |layer| layer.top) + above + 130;
    }

    fn say(&mut self, class: &'static str, at: (i32, i32), anchor: Anchor, words: &str) {
        self.drawing.words.push(Text { class, at, anchor, words: words.to_owned() });
    }

    fn line(&mut self, class: &'static str, from: (i32, i32), to: (i32, i32)) {
        self.drawing.lines.push(Line { class, from, to });
    }

    /// The waterline with its reflection, and the staff that counts the generations.
    fn gauge(&mut self) {
        let (x, wide) = (self.sheet.gauge * 10, self.drawing.width * 10);
        let water = self.surface;
        self.line("waterline", (0, water), (wide, water));
        self.line("reflection", (0, water + 55), (self.sheet.width * 10 * 38 / 100, water + 55));
        let marks: Vec<i32> = self.layers.iter().map(|layer| layer.top + self.sheet.code.size * 8).collect();
        for (depth, y) in marks.iter().enumerate() {
            let foot = y + if depth == 0 { 20 } else { self.sheet.deep.size * 3 - 30 };
            self.say("deep", (0, foot), Anchor::Start, &(self.sheet.named)(depth));
        }
        let Some(&last) = marks.get(1..).and_then(<[i32]>::last) else { return };
        self.line("staff", (x, water), (x, last));
        let mut above = water;
        for y in &marks[1..] {
            for stroke in 1..=STROKES {
                let between = above + (y - above) * stroke / (STROKES + 1);
                self.line("day", (x - 25, between), (x, between));
            }
            self.line("day", (x - 60, *y), (x, *y));
            above = *y;
        }
    }

    fn block(&mut self, node: NodeId, depth: usize) {
        let (Some(block), Some(&x)) = (self.blocks.get(&node), self.placed.middles.get(&node)) else {
            return;
        };
        let mut y = self.layers[depth].top;
        let mut words = Vec::new();
        for line in &block.said {
            y += lead(line.of);
            words.push((line.class, (x, y - 20), Anchor::Middle, line.words.clone()));
        }
        let (left, right) = (x - block.width / 2, x + block.width / 2);
        let at_surface = depth == 0;
        let line = if at_surface { self.surface } else { y + TO_LINE };
        let foot = line + TO_PARENTS + if at_surface { 40 } else { 0 };
        match &block.parents {
            Parents::None => {}
            Parents::Together(said) => words.push(("whose", (x, foot), Anchor::Middle, said.clone())),
            Parents::Apart(fathers, mothers) => {
                words.push(("whose", (left, foot), Anchor::Start, fathers.clone()));
                words.push(("whose", (right, foot), Anchor::End, mothers.clone()));
            }
        }
        if !at_surface {
            self.line("under", (left, line), (right, line));
        }
        for (class, at, anchor, words) in words {
            self.say(class, at, anchor, &words);
        }
    }

    fn descents(&mut self, drawn: &BTreeMap<NodeId, usize>) {
        for descent in &self.placed.descents {
            let (Some(block), Some(&x)) =
                (self.blocks.get(&descent.child), self.placed.middles.get(&descent.child))
            else {
                continue;
            };
            let (child, parent) = (drawn[&descent.child], drawn[&descent.parent]);
            let x = x + block.ports(self.sheet)[descent.port];
            let line =
                if child == 0 { self.surface + 40 } else { self.layers[child].top + block.above() + TO_LINE };
            let begins = line + TO_PARENTS + TO_DESCENT;
            let mut to = Vec::new();
            if self.layers[child].foot > begins {
                to.push((x, self.layers[child].foot));
            }
            for (pass, layer) in descent.passes.iter().zip(&self.layers[child + 1..]) {
                to.push((*pass, layer.top));
                to.push((*pass, layer.foot));
            }
            let end = self.placed.middles.get(&descent.parent).copied().unwrap_or(x);
            to.push((end, self.layers[parent].top - SHORT));
            let class = if descent.open { "maybe" } else { "descent" };
            self.drawing.curves.push(Curve { class, from: (x, begins), to });
        }
    }
}
