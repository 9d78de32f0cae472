//! What the pages of accounts draw: the picture from which a phone takes a secret.

use qrcode::{Color, EcLevel, QrCode};

use crate::platform::{Problem, Result};

/// How many squares of white lie around the picture (ISO/IEC 18004).
const QUIET: usize = 4;

/// A picture of squares, for a template.
pub struct Squares {
    /// Its width and height, in squares.
    pub side: usize,
    /// The dark ones, as the path of an SVG.
    pub path: String,
}

/// A text as a picture that phones read.
pub fn squares(text: &str) -> Result<Squares> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M);
    let code = code.map_err(|err| Problem::failed("drawing a code", err))?;
    let (width, colors) = (code.width(), code.to_colors());
    let dark = colors.iter().enumerate().filter(|(_, color)| **color == Color::Dark);
    let path = dark.map(|(i, _)| format!("M{} {}h1v1h-1z", i % width + QUIET, i / width + QUIET));
    Ok(Squares { side: width + 2 * QUIET, path: path.collect() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_has_its_three_corners_and_white_around_it() {
        let drawn = squares("otpauth://totp/Tarn:mira?secret=GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ&issuer=Tarn")
            .expect("drawn");
        let last = drawn.side - QUIET - 1;
        for (x, y) in [(QUIET, QUIET), (last, QUIET), (QUIET, last)] {
            assert!(drawn.path.contains(&format!("M{x} {y}h1v1h-1z")), "{x} {y}");
        }
        assert!(!drawn.path.contains(&format!("M{} ", last + 1)) && !drawn.path.contains("M3 "));
    }
}
