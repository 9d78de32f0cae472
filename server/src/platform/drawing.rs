//! A picture as lines, washes and words at places, ready for the page. Knows no area; what it shows stands beside it in
//! words. Two drawings a picture, one for a phone and one for a desk, instead of one scaled.

/// A picture: the same thing drawn twice.
pub struct Picture {
    /// What one who does not see it is told.
    pub label: String,
    /// For a phone, 358 px wide.
    pub narrow: Drawing,
    /// For a desk, 860 px wide.
    pub wide: Drawing,
}

/// One drawing. Later things lie over earlier ones; words over all lines.
#[derive(Default)]
pub struct Drawing {
    /// In px.
    pub width: i32,
    /// In px.
    pub height: i32,
    /// Lines.
    pub lines: Vec<Line>,
    /// Lines that bend.
    pub curves: Vec<Curve>,
    /// Words.
    pub words: Vec<Text>,
}

/// A line. Places are in tenths of a px.
pub struct Line {
    /// Its class in the style sheet.
    pub class: &'static str,
    /// From where.
    pub from: (i32, i32),
    /// To where.
    pub to: (i32, i32),
}

impl Line {
    /// As the drawing has it.
    pub fn x1(&self) -> String {
        px(self.from.0)
    }
    /// As the drawing has it.
    pub fn y1(&self) -> String {
        px(self.from.1)
    }
    /// As the drawing has it.
    pub fn x2(&self) -> String {
        px(self.to.0)
    }
    /// As the drawing has it.
    pub fn y2(&self) -> String {
        px(self.to.1)
    }
}

/// A line that goes from point to point and stands upright at each of them. Places are in tenths of a px.
pub struct Curve {
    /// Its class in the style sheet.
    pub class: &'static str,
    /// Where it begins.
    pub from: (i32, i32),
    /// Where it comes by, and at last ends.
    pub to: Vec<(i32, i32)>,
}

impl Curve {
    /// As the drawing has it.
    pub fn path(&self) -> String {
        let mut path = format!("M{} {}", px(self.from.0), px(self.from.1));
        let mut at = self.from;
        for &(x, y) in &self.to {
            if x == at.0 {
                path.push_str(&format!("V{}", px(y)));
            } else {
                let middle = px(i32::midpoint(at.1, y));
                path.push_str(&format!("C{} {middle} {} {middle} {} {}", px(at.0), px(x), px(x), px(y)));
            }
            at = (x, y);
        }
        path
    }
}

/// Which end of words stands at their place.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// They begin there.
    Start,
    /// Their middle is there.
    Middle,
    /// They end there.
    End,
}

impl Anchor {
    /// As the drawing has it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

/// Words at a place, in tenths of a px.
pub struct Text {
    /// Their class in the style sheet.
    pub class: &'static str,
    /// Where.
    pub at: (i32, i32),
    /// Which end.
    pub anchor: Anchor,
    /// The words.
    pub words: String,
}

impl Text {
    /// As the drawing has it.
    pub fn x(&self) -> String {
        px(self.at.0)
    }
    /// As the drawing has it.
    pub fn y(&self) -> String {
        px(self.at.1)
    }
}

/// Tenths as a number: without floats, so that a page is the same on every machine.
fn px(tenths: i32) -> String {
    let (sign, size) = (if tenths < 0 { "-" } else { "" }, tenths.unsigned_abs());
    match size % 10 {
        0 => format!("{sign}{}", size / 10),
        part => format!("{sign}{}.{part}", size / 10),
    }
}

#[cfg(test)]
mod tests {
    use super::{Curve, px};

    #[test]
    fn places_are_written_short() {
        assert_eq!([px(0), px(10), px(-5), px(1234)], ["0", "1", "-0.5", "123.4"]);
    }

    #[test]
    fn a_curve_is_upright_where_it_comes_by() {
        let curve = Curve { class: "", from: (0, 0), to: vec![(100, 200), (100, 300)] };
        assert_eq!(curve.path(), "M0 0C0 10 10 10 10 20V30");
    }
}
