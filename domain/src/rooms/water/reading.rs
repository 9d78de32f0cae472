//! Water readings and volumes as they are typed, and as they are kept: whole thousandths of one unit a measure.
//! Decimal arithmetic only; half a thousandth goes up, away from zero. Says nothing about what is good for whom.

use crate::rooms::ops::{Millilitres, Reading};
use crate::rooms::words::Measure;

/// Why a text is no reading.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAReading {
    /// No number.
    #[error("{0:?} does not begin with a number, as 7.2 or 25,5 does")]
    Number(String),
    /// A unit that this measure does not have.
    #[error("{}; write one of {known}", if unit.is_empty() { format!("{measure} needs its unit") } else { format!("{unit:?} is no unit of {measure}") })]
    Unit {
        /// What was typed.
        unit: String,
        /// Of what.
        measure: &'static str,
        /// Those it has.
        known: String,
    },
    /// Out of what can be.
    #[error("{0} can't be: check the number and its unit")]
    Impossible(String),
}

/// How a unit becomes the one that is kept: `(typed + add) × times / by`, all in millionths where they are no integers.
struct Unit {
    spellings: &'static [&'static str],
    add: i128,
    times: i128,
    by: i128,
}

const fn unit(spellings: &'static [&'static str], add: i128, times: i128, by: i128) -> Unit {
    Unit { spellings, add, times, by }
}

pub(super) const MICRO: i128 = 1_000_000;

// Definitions: 1 °dH is 10 mg/L CaO (DIN), with IUPAC/CIAAW 2021 masses 17.84796 mg/L CaCO3, 0.178326 mmol/L,
// 1.784796 °fH, 1.252157 Clark degrees, 1.042639 US grains a gallon; 1 °dKH is 0.356652 meq/L.
// Nitrogen: NH3/N 1.21589, NH4/N 1.28786, NO2/N 3.28443, NO3/N 4.42664 (molar masses).
const TEMPERATURE: &[Unit] = &[
    unit(&["c", "°c", "celsius"], 0, 1, 1),
    unit(&["f", "°f", "fahrenheit"], -32 * MICRO, 5, 9),
    unit(&["k", "kelvin"], -273_150_000, 1, 1),
];
const PH: &[Unit] = &[unit(&["", "ph"], 0, 1, 1)];
const AMMONIA: &[Unit] = &[
    unit(&["mg/l nh3", "ppm nh3", "nh3"], 0, 1, 1),
    unit(&["mg/l nh4", "ppm nh4", "nh4"], 0, 121_589, 128_786),
    unit(&["mg/l n", "ppm n", "nh3-n", "n"], 0, 121_589, 100_000),
];
const NITRITE: &[Unit] = &[
    unit(&["mg/l", "ppm", "mg/l no2", "no2", ""], 0, 1, 1),
    unit(&["mg/l n", "ppm n", "no2-n"], 0, 328_443, 100_000),
];
const NITRATE: &[Unit] = &[
    unit(&["mg/l", "ppm", "mg/l no3", "no3", ""], 0, 1, 1),
    unit(&["mg/l n", "ppm n", "no3-n"], 0, 442_664, 100_000),
];
const GH: &[Unit] = &[
    unit(&["dh", "°dh", "dgh", "°dgh", "°"], 0, 1, 1),
    unit(&["mg/l caco3", "ppm", "mg/l", "ppm caco3"], 0, MICRO, 17_847_959),
    unit(&["fh", "°fh"], 0, MICRO, 1_784_796),
    unit(&["°e", "clark"], 0, MICRO, 1_252_157),
    unit(&["gpg"], 0, MICRO, 1_042_639),
    unit(&["mmol/l"], 0, MICRO, 178_326),
];
const KH: &[Unit] = &[
    unit(&["dh", "°dh", "dkh", "°dkh", "°"], 0, 1, 1),
    unit(&["mg/l caco3", "ppm", "mg/l", "ppm caco3"], 0, MICRO, 17_847_959),
    unit(&["meq/l"], 0, MICRO, 356_652),
];
const CONDUCTIVITY: &[Unit] =
    &[unit(&["us/cm", "µs/cm", "μs/cm", "us", "µs", "μs"], 0, 1, 1), unit(&["ms/cm", "ms"], 0, 1000, 1)];
const SALINITY: &[Unit] = &[unit(&["g/kg", "ppt", "psu", "‰"], 0, 1, 1)];

fn units(what: Measure) -> &'static [Unit] {
    match what {
        Measure::Temperature => TEMPERATURE,
        Measure::Ph => PH,
        Measure::Ammonia => AMMONIA,
        Measure::Nitrite => NITRITE,
        Measure::Nitrate => NITRATE,
        Measure::Gh => GH,
        Measure::Kh => KH,
        Measure::Conductivity => CONDUCTIVITY,
        Measure::Salinity => SALINITY,
    }
}

/// The unit that a measure is kept in.
pub fn kept_in(what: Measure) -> &'static str {
    match what {
        Measure::Temperature => "°C",
        Measure::Ph => "pH",
        Measure::Ammonia => "mg/L NH3",
        Measure::Nitrite => "mg/L NO2",
        Measure::Nitrate => "mg/L NO3",
        Measure::Gh | Measure::Kh => "°dH",
        Measure::Conductivity => "µS/cm",
        Measure::Salinity => "g/kg",
    }
}

/// Reads a value with its unit, as "25.5 C", "77F", "7,2" or "178 mg/l CaCO3". What was typed is kept beside it.
///
/// # Errors
/// No number, a unit that the measure does not have (a bare number where units differ is asked for), or a value that
/// can't be.
pub fn reading(what: Measure, text: &str) -> Result<Reading, NotAReading> {
    let text = text.trim();
    let (typed, rest) = number_of(text).ok_or_else(|| NotAReading::Number(text.to_owned()))?;
    let value = millionths(typed).ok_or_else(|| NotAReading::Number(text.to_owned()))?;
    let spelled: String = rest.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    let found = units(what).iter().find(|u| u.spellings.contains(&spelled.as_str()));
    let Some(unit) = found else {
        let known: Vec<&str> = units(what).iter().map(|u| u.spellings[0]).collect();
        let (unit, measure) = (rest.trim().to_owned(), what.plain());
        return Err(NotAReading::Unit { unit, measure, known: known.join(", ") });
    };
    let milli = rounded((value + unit.add) * unit.times, unit.by * 1000);
    let possible = match what {
        Measure::Temperature => -5_000..=60_000,
        Measure::Ph => 0..=14_000,
        _ => 0..=i128::from(u32::MAX),
    };
    if !possible.contains(&milli) {
        return Err(NotAReading::Impossible(format!("{} of {text}", what.plain())));
    }
    let milli = i64::try_from(milli).map_err(|_| NotAReading::Impossible(text.to_owned()))?;
    Ok(Reading { what, typed: typed.to_owned(), unit: rest.trim().to_owned(), milli })
}

/// Reads a volume, as "54 l", "54", "750 ml", "20 gal" (US; NIST SP 811) or "20 imp gal" (UK regulations 1995).
///
/// # Errors
/// No number, an unknown unit, or more than four million litres.
pub fn volume(text: &str) -> Result<Millilitres, NotAReading> {
    let text = text.trim();
    let (typed, rest) = number_of(text).ok_or_else(|| NotAReading::Number(text.to_owned()))?;
    let value = millionths(typed).ok_or_else(|| NotAReading::Number(text.to_owned()))?;
    let nanolitres_each: i128 = match rest.trim().to_lowercase().as_str() {
        "" | "l" | "litre" | "litres" | "liter" | "liters" => 1_000_000_000,
        "ml" => 1_000_000,
        "gal" | "us gal" | "gallon" | "gallons" => 3_785_411_784,
        "imp gal" | "uk gal" => 4_546_090_000,
        unit => {
            let (unit, known) = (unit.to_owned(), "l, ml, gal, imp gal".to_owned());
            return Err(NotAReading::Unit { unit, measure: "volume", known });
        }
    };
    let ml = rounded(value * nanolitres_each, MICRO * 1_000_000);
    u32::try_from(ml).map(Millilitres).map_err(|_| NotAReading::Impossible(format!("a volume of {text}")))
}

/// Splits off the number at the start, with a decimal point or comma.
pub(super) fn number_of(text: &str) -> Option<(&str, &str)> {
    let end = text
        .char_indices()
        .find(|(i, c)| !(c.is_ascii_digit() || matches!(c, '.' | ',') || (*i == 0 && matches!(c, '-' | '+'))))
        .map_or(text.len(), |(i, _)| i);
    let (number, rest) = text.split_at(end);
    number.bytes().any(|b| b.is_ascii_digit()).then_some((number, rest))
}

/// A decimal number in millionths; more than six decimals or two points are no number.
pub(super) fn millionths(text: &str) -> Option<i128> {
    let negative = text.starts_with('-');
    let plain = text.trim_start_matches(['-', '+']);
    let (whole, part) = plain.split_once(['.', ',']).unwrap_or((plain, ""));
    let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    if !digits(whole) || !digits(part) || part.len() > 6 || whole.len() > 12 {
        return None;
    }
    let number = |t: &str| if t.is_empty() { Some(0) } else { t.parse::<i128>().ok() };
    let value = number(whole)? * MICRO + number(&format!("{part:0<6}"))?;
    Some(if negative { -value } else { value })
}

/// `a / b` to the nearest whole, half away from zero; `b` is positive.
pub(super) fn rounded(a: i128, b: i128) -> i128 {
    let half = if a < 0 { -b } else { b };
    (2 * a + half) / (2 * b)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn milli(what: Measure, text: &str) -> i64 {
        reading(what, text).expect(text).milli
    }

    /// The scales of temperature are exact: −40 °C = −40 °F, 24 °C = 75.2 °F, 25 °C = 77 °F, 28 °C = 82.4 °F.
    #[test]
    fn fahrenheit_is_exact() {
        assert_eq!(milli(Measure::Temperature, "75.2 F"), 24_000);
        assert_eq!(milli(Measure::Temperature, "77F"), 25_000);
        assert_eq!(milli(Measure::Temperature, "82,4 °F"), 28_000);
        assert_eq!(milli(Measure::Temperature, "32 f"), 0);
        assert_eq!(milli(Measure::Temperature, "298.15 K"), 25_000);
        assert!(matches!(reading(Measure::Temperature, "-40 F"), Err(NotAReading::Impossible(_))));
    }

    /// 1 °dH = 17.848 mg/L CaCO3 (10 mg/L CaO, DIN; IUPAC/CIAAW 2021 masses);
    /// 1 US grain a gallon = 17.118 mg/L CaCO3 (NIST SP 811 factors), one Clark degree 14.2538 mg/L (1 grain =
    /// 64.79891 mg, 1 imperial gallon = 4.54609 L, both exact).
    #[test]
    fn hardness_of_every_kind() {
        assert_eq!(milli(Measure::Gh, "17.848 mg/l CaCO3"), 1_000);
        assert_eq!(milli(Measure::Gh, "50 ppm"), 2_801);
        assert_eq!(milli(Measure::Gh, "17.84796 fH"), 10_000);
        assert_eq!(milli(Measure::Gh, "1 mmol/l"), 5_608);
        assert_eq!(milli(Measure::Gh, "8 dH"), 8_000);
        assert_eq!(milli(Measure::Gh, "1 gpg"), milli(Measure::Gh, "17.118 ppm"));
        assert_eq!(milli(Measure::Gh, "1 clark"), milli(Measure::Gh, "14.2538 ppm"));
        // 1 °dKH = 0.35665 meq/L
        assert_eq!(milli(Measure::Kh, "0.35665 meq/l"), 1_000);
    }

    /// NH3/N 1.21589, NH4/N 1.28786, NO2/N 3.28443, NO3/N 4.42664 (computed from molar masses).
    #[test]
    fn nitrogen_is_named() {
        assert_eq!(milli(Measure::Ammonia, "1 mg/l N"), 1_216);
        assert_eq!(milli(Measure::Ammonia, "1.28786 NH4"), 1_216);
        assert_eq!(milli(Measure::Nitrite, "1 mg/l N"), 3_284);
        assert_eq!(milli(Measure::Nitrate, "10 mg/l n"), 44_266);
        // Kits differ, so a bare number is not taken.
        assert!(matches!(reading(Measure::Ammonia, "0.25"), Err(NotAReading::Unit { .. })));
        assert!(matches!(reading(Measure::Temperature, "25"), Err(NotAReading::Unit { .. })));
    }

    #[test]
    fn what_was_typed_is_kept() {
        let read = reading(Measure::Conductivity, " 1,25 mS/cm ").expect("a reading");
        assert_eq!((read.typed.as_str(), read.unit.as_str(), read.milli), ("1,25", "mS/cm", 1_250_000));
        for wrong in ["", "warm", "1.2.3", "7.2 dH", "14.1", "--7"] {
            assert!(reading(Measure::Ph, wrong).is_err(), "{wrong}");
        }
    }

    /// 1 US gallon = 3.785411784 L, 1 imperial gallon = 4.54609 L (NIST SP 811; UK Units of Measurement Regulations 1995).
    #[test]
    fn volumes() {
        for (text, ml) in
            [("54", 54_000), ("750 ml", 750), ("10 gal", 37_854), ("10 imp gal", 45_461), ("0,5 l", 500)]
        {
            assert_eq!(volume(text), Ok(Millilitres(ml)), "{text}");
        }
        for wrong in ["-3", "l", "5 barrels", "9999999999 l"] {
            assert!(volume(wrong).is_err(), "{wrong}");
        }
    }

    proptest! {
        #[test]
        fn readings_never_panic(text in "\\PC{0,24}", which in 0usize..9) {
            let _ = (reading(Measure::ALL[which], &text), volume(&text));
        }
    }
}
