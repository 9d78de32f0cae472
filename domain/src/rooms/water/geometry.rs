//! How much a tank holds by its measures, in millilitres. Decimal arithmetic; π and √3 to fifteen digits.

use super::reading::{NotAReading, millionths, number_of, rounded};
use crate::rooms::ops::Millilitres;

/// A tank's form, all measures inside and in thousandths of a millimetre.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Length, width, height of the water.
    Box(i128, i128, i128),
    /// Diameter, height of the water.
    Cylinder(i128, i128),
    /// A regular hexagon's side, height of the water.
    Hexagon(i128, i128),
}

const PI: i128 = 3_141_592_653_589_793;
const SQRT_3: i128 = 1_732_050_807_568_877;
const FIFTEEN: i128 = 1_000_000_000_000_000;
/// Cubic thousandths of a millimetre in a millilitre.
const MILLILITRE: i128 = 1_000_000_000_000;
/// Nothing a tank is made of is longer: a hundred metres.
const LONGEST: i128 = 100_000_000;

impl Form {
    /// What it holds; none if that is more than can be kept.
    pub fn holds(self) -> Option<Millilitres> {
        let (times, by) = match self {
            Self::Box(l, w, h) => (l * w * h, 1),
            Self::Cylinder(d, h) => (d * d * h, 4),
            Self::Hexagon(s, h) => (s * s * h * 3, 2),
        };
        let ml = match self {
            Self::Box(..) => rounded(times, MILLILITRE),
            // in tenths of a microlitre first, so that the product with fifteen digits fits
            Self::Cylinder(..) => rounded(rounded(times, 100_000_000) * PI, by * 10_000 * FIFTEEN),
            Self::Hexagon(..) => rounded(rounded(times, 100_000_000) * SQRT_3, by * 10_000 * FIFTEEN),
        };
        u32::try_from(ml).ok().map(Millilitres)
    }

    /// The inside of a box of glass that was measured outside, open at the top: two walls off length and width, the
    /// bottom off the height.
    pub fn inside(self, glass: i128) -> Self {
        match self {
            Self::Box(l, w, h) => Self::Box(l - 2 * glass, w - 2 * glass, h - glass),
            Self::Cylinder(d, h) => Self::Cylinder(d - 2 * glass, h - glass),
            // a wall takes its thickness off the inner radius, and so 2/√3 of it off the side
            Self::Hexagon(s, h) => Self::Hexagon(s - rounded(2 * glass * FIFTEEN, SQRT_3), h - glass),
        }
    }

    fn is_possible(self) -> bool {
        let (a, b, c) = match self {
            Self::Box(l, w, h) => (l, w, h),
            Self::Cylinder(d, h) | Self::Hexagon(d, h) => (d, d, h),
        };
        [a, b, c].into_iter().all(|side| (1..=LONGEST).contains(&side))
    }
}

/// What a tank of these measures holds: "60 x 30 x 36 cm", "cylinder 40 x 50 cm" (diameter, height) or
/// "hexagon 30 x 50 cm" (side, height), inside; with "glass 10 mm" behind it, measured outside and open at the top.
///
/// # Errors
/// No such measures, or none that can be.
pub fn holds(text: &str) -> Result<Millilitres, NotAReading> {
    let lower = text.trim().to_lowercase().replace('×', "x");
    let no = || NotAReading::Number(text.trim().to_owned());
    let (measures, glass) = match lower.split_once("glass") {
        Some((measures, glass)) => (measures.trim_end_matches([' ', ',']), Some(glass)),
        None => (lower.as_str(), None),
    };
    let (kind, measures) = match measures.split_once(char::is_whitespace) {
        Some((kind @ ("cylinder" | "hexagon" | "box"), rest)) => (kind, rest),
        _ => ("box", measures),
    };
    let mut parts: Vec<&str> = measures.split('x').map(str::trim).collect();
    let last = parts.pop().ok_or_else(no)?;
    let (number, unit) = number_of(last).ok_or_else(no)?;
    parts.push(number);
    let sides = parts.into_iter().map(|side| length(side, unit)).collect::<Result<Vec<i128>, _>>()?;
    let form = match (kind, &sides[..]) {
        ("box", [l, w, h]) => Form::Box(*l, *w, *h),
        ("cylinder", [d, h]) => Form::Cylinder(*d, *h),
        ("hexagon", [s, h]) => Form::Hexagon(*s, *h),
        _ => return Err(no()),
    };
    let form = match glass {
        None => form,
        Some(glass) => {
            let (number, unit) = number_of(glass.trim()).ok_or_else(no)?;
            form.inside(length(number, unit)?)
        }
    };
    let impossible = || NotAReading::Impossible(format!("a tank of {}", text.trim()));
    if !form.is_possible() {
        return Err(impossible());
    }
    form.holds().ok_or_else(impossible)
}

/// A length in thousandths of a millimetre.
fn length(number: &str, unit: &str) -> Result<i128, NotAReading> {
    let value = millionths(number.trim()).ok_or_else(|| NotAReading::Number(number.trim().to_owned()))?;
    let each = match unit.trim() {
        "mm" => 1,
        "cm" => 10,
        "m" => 1000,
        // exact: an inch is 25.4 mm
        "in" | "inch" | "inches" | "\"" => return Ok(rounded(value * 254, 10_000)),
        other => {
            let (unit, known) = (other.to_owned(), "mm, cm, m, in".to_owned());
            return Err(NotAReading::Unit { unit, measure: "a tank\u{2019}s measures", known });
        }
    };
    Ok(rounded(value * each, 1000))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn ml(text: &str) -> u32 {
        holds(text).unwrap_or_else(|e| panic!("{text}: {e}")).0
    }

    /// Computed: 64.8 l, 62.8319 l, 116.9134 l; and 182.476 l inside a tank of 100 × 40 × 50 cm of 10 mm glass, open
    /// at the top.
    #[test]
    fn tanks_by_their_measures() {
        assert_eq!(ml("60 x 30 x 36 cm"), 64_800);
        assert_eq!(ml("600×300×360mm"), 64_800);
        assert_eq!(ml("cylinder 40 x 50 cm"), 62_832);
        assert_eq!(ml("hexagon 30 x 50 cm"), 116_913);
        assert_eq!(ml("100 x 40 x 50 cm, glass 10 mm"), 182_476);
        // 24 × 12 × 16 inches
        assert_eq!(ml("24 x 12 x 16 in"), 75_512);
        assert_eq!(ml("0,6x0.3x0.36 m"), 64_800);
    }

    #[test]
    fn what_is_no_tank_is_refused() {
        for wrong in [
            "",
            "60 x 30 cm",
            "60 x 30 x 36",
            "60 x 30 x 36 ells",
            "cylinder 40 cm",
            "0 x 30 x 36 cm",
            "-60 x 30 x 36 cm",
            "2 x 2 x 2 cm glass 10 mm",
            "90000 x 90000 x 9000 m",
            "60 x x 36 cm",
        ] {
            assert!(holds(wrong).is_err(), "{wrong}");
        }
    }

    proptest! {
        #[test]
        fn measures_never_panic(text in "(cylinder |hexagon |box )?[0-9.,-]{0,14} ?x ?[0-9.]{0,14}( ?x ?[0-9.]{0,14})? ?(mm|cm|m|in)?(,? glass [0-9.]{0,12} ?m?m?)?") {
            let _ = holds(&text);
        }
    }
}
