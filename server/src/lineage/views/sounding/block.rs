//! What one brood says in the picture, and how much room it takes: its code and facts over a line, its parents under it.

use tarn_domain::lineage::Draw;

use super::{Brood, Entry, Met, Sheet, Side};
use crate::platform::fit::{Type, lines, width};

/// The sign that the one after it stands for males; written so that no screen shows a coloured picture.
const MALE: &str = "\u{2642}\u{fe0e}";
/// The same for females.
const FEMALE: &str = "\u{2640}\u{fe0e}";

/// Words of a block, one line.
pub struct Said {
    pub class: &'static str,
    pub of: Type,
    pub words: String,
}

/// What hangs under the line.
pub enum Parents {
    /// Nothing: the records end here.
    None,
    /// Both of one brood: one line leads there.
    Together(String),
    /// Males at the left, females at the right.
    Apart(String, String),
}

/// A brood, or where the records end. All measures are tenths of a px.
pub struct Block {
    /// Above the line.
    pub said: Vec<Said>,
    /// Under it.
    pub parents: Parents,
    /// How wide it is.
    pub width: i32,
}

impl Block {
    /// Of what is met.
    pub fn of(met: &Met, sheet: &Sheet, is_root: bool) -> Self {
        let code = if is_root { ("root", sheet.root) } else { ("code", sheet.code) };
        let mut said = Vec::new();
        let mut say = |(class, of): (&'static str, Type), words: &str| {
            let broken = lines(words, of, sheet.note * 10).into_iter();
            said.extend(broken.map(|words| Said { class, of, words }));
        };
        let plain = ("fact", sheet.plain);
        let parents = match met {
            Met::Brood(brood) => {
                say(code, &brood.code);
                let facts: Vec<&str> =
                    [&brood.month, &brood.young].into_iter().flatten().map(|s| s.as_str()).collect();
                say(plain, &facts.join(", "));
                say(plain, brood.differs.as_deref().unwrap_or(""));
                say(plain, if brood.cross { "cross" } else { "" });
                parents(brood)
            }
            Met::End { name, words } => {
                say(code, name);
                say(plain, words);
                Parents::None
            }
        };
        let above = said.iter().map(|line| width(&line.words, line.of)).max().unwrap_or(0);
        let under = match &parents {
            Parents::None => 0,
            Parents::Together(words) => width(words, sheet.plain),
            Parents::Apart(left, right) => width(left, sheet.plain) + 100 + width(right, sheet.plain),
        };
        Self { said, parents, width: above.max(under).max(400) }
    }

    /// How high the words above the line are.
    pub fn above(&self) -> i32 {
        self.said.iter().map(|line| lead(line.of)).sum()
    }

    /// Where the lines to its fathers and mothers begin, from its middle.
    pub fn ports(&self, sheet: &Sheet) -> [i32; 2] {
        match &self.parents {
            Parents::Apart(left, right) => {
                let half = |words: &str| width(words, sheet.plain) / 2;
                [half(left) - self.width / 2, self.width / 2 - half(right)]
            }
            _ => [0, 0],
        }
    }
}

/// From one line of words to the next.
pub fn lead(of: Type) -> i32 {
    (of.size + 6) * 10
}

/// Whether one line leads to the parents of both sides.
pub fn together(brood: &Brood) -> bool {
    let (fathers, mothers) = (brood.fathers.nodes(), brood.mothers.nodes());
    let all_told = |side: &Side| match side {
        Side::Known { of, .. } => of.iter().all(|entry| entry.node.is_some()),
        Side::NotKnown => false,
    };
    fathers.len() == 1
        && fathers == mothers
        && all_told(&brood.fathers)
        && all_told(&brood.mothers)
        && !brood.fathers.is_open()
        && !brood.mothers.is_open()
}

fn parents(brood: &Brood) -> Parents {
    if together(brood) {
        return Parents::Together(format!(
            "{MALE}{FEMALE} {} and {}",
            brood.fathers.total(),
            brood.mothers.total()
        ));
    }
    Parents::Apart(side(MALE, &brood.fathers), side(FEMALE, &brood.mothers))
}

fn side(sign: &str, side: &Side) -> String {
    let Side::Known { draw, of } = side else { return format!("{sign} not known") };
    let told = if of.iter().any(|Entry { node, .. }| node.is_some()) { "" } else { ", not told apart" };
    match (draw, side.total()) {
        (Draw::One, n) if n > 1 => format!("{sign} 1 of {n}{told}"),
        (_, n) => format!("{sign} {n}{told}"),
    }
}
