//! Un-ionised ammonia, the part of the total that harms fish, by Emerson et al. 1975 (table in UF/IFAS FA031). Shown,
//! never stored; outside its range there is no answer, and an answer is no promise of safety.

use std::fmt;

use super::whole;

/// Emerson, Russo, Lund & Thurston 1975, J. Fish. Res. Board Can. 32:2379-2383.
pub const SOURCE: &str = "Emerson et al. 1975; UF/IFAS FA031";
/// Temperatures for which it holds, in °C.
pub const TEMPERATURES: (f64, f64) = (0.0, 30.0);
/// pH for which it holds.
pub const PH: (f64, f64) = (6.0, 10.0);
/// Above so many thousandths of mg/L it may harm (UF/IFAS FA031: 0.05 mg/L).
pub const MAY_HARM_ABOVE_MG_L: f64 = 0.05;
/// From so many thousandths of g/kg on water is no longer fresh (Venice system, 0.5 g/kg; from memory).
pub const BRACKISH_FROM_MILLI: i64 = 500;
/// Above so many thousandths of µS/cm it may be brackish, unless its salinity is known (from memory, no source).
pub const MAYBE_BRACKISH_ABOVE_MILLI: i64 = 1_500_000;

/// Why nothing is reckoned.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NotReckoned {
    /// It needs a temperature.
    #[error("it needs the temperature, read within a day of the ammonia")]
    NoTemperature,
    /// It needs a pH.
    #[error("it needs the pH, read within a day of the ammonia")]
    NoPh,
    /// Out of range.
    #[error("the formula holds from 0 to 30 °C, and the water had {0} °C")]
    Temperature(f64),
    /// Out of range.
    #[error("the formula holds from pH 6 to 10, and the water had pH {0}")]
    Ph(f64),
    /// Salt changes it.
    #[error("the formula holds for fresh water, and this is brackish")]
    Brackish,
    /// Salt changes it.
    #[error(
        "the formula holds for fresh water, and the conductivity says that this may be brackish; read the salinity"
    )]
    MaybeBrackish,
}

/// The pKa of ammonium in fresh water: `0.09018 + 2729.92 / T`.
pub fn pka(celsius: f64) -> f64 {
    0.09018 + 2729.92 / (celsius + 273.15)
}

/// Which share of total ammonia is un-ionised: `1 / (1 + 10^(pKa − pH))`.
///
/// # Errors
/// Outside 0 to 30 °C or pH 6 to 10.
pub fn fraction(celsius: f64, ph: f64) -> Result<f64, NotReckoned> {
    if !(TEMPERATURES.0..=TEMPERATURES.1).contains(&celsius) {
        return Err(NotReckoned::Temperature(celsius));
    }
    if !(PH.0..=PH.1).contains(&ph) {
        return Err(NotReckoned::Ph(ph));
    }
    Ok(1.0 / (1.0 + 10_f64.powf(pka(celsius) - ph)))
}

/// What was read, in thousandths as it is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Sample {
    /// Total ammonia, in thousandths of mg/L, as NH3.
    pub total: i64,
    /// In thousandths of °C.
    pub temperature: Option<i64>,
    /// In thousandths.
    pub ph: Option<i64>,
    /// In thousandths of g/kg.
    pub salinity: Option<i64>,
    /// In thousandths of µS/cm.
    pub conductivity: Option<i64>,
}

/// The un-ionised part, as NH3.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unionised {
    /// The share of the total.
    pub fraction: f64,
    /// In mg/L NH3.
    pub mg_l: f64,
    /// In mg/L of nitrogen, as tables often have it.
    pub as_nitrogen: f64,
}

impl Unionised {
    /// Whether it is above what may harm fish. Below it nothing is promised: fish and their young differ.
    /// Compared as NH3, which is the cautious side.
    pub fn may_harm(&self) -> bool {
        self.mg_l > MAY_HARM_ABOVE_MG_L
    }
}

/// "0.050 mg/L": to thousandths; a smaller amount is said to be smaller.
impl fmt::Display for Unionised {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.mg_l > 0.0 && self.mg_l < 0.0005 {
            return f.write_str("less than 0.001\u{a0}mg/L");
        }
        write!(f, "{:.3}\u{a0}mg/L", self.mg_l)
    }
}

/// The un-ionised part of what was read.
///
/// # Errors
/// What is missing, or out of the formula's range.
pub fn unionised(sample: &Sample) -> Result<Unionised, NotReckoned> {
    match (sample.salinity, sample.conductivity) {
        (Some(salt), _) if salt >= BRACKISH_FROM_MILLI => return Err(NotReckoned::Brackish),
        (None, Some(ec)) if ec > MAYBE_BRACKISH_ABOVE_MILLI => return Err(NotReckoned::MaybeBrackish),
        _ => {}
    }
    let celsius = whole(sample.temperature.ok_or(NotReckoned::NoTemperature)?);
    let ph = whole(sample.ph.ok_or(NotReckoned::NoPh)?);
    let fraction = fraction(celsius, ph)?;
    let mg_l = whole(sample.total) * fraction;
    Ok(Unionised { fraction, mg_l, as_nitrogen: mg_l / 1.21589 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rooms::water::reading;
    use crate::rooms::words::Measure;

    fn near(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "{got} is not {want}");
    }

    /// UF/IFAS FA031, table of the fraction, printed to 4 decimals (seen). Its 32 °C column and its cell for pH 7.4
    /// and 20 °C don't follow its own formula and are left out.
    #[test]
    fn the_printed_table() {
        for (celsius, ph, want) in [
            (6.0, 7.0, 0.0013),
            (20.0, 7.0, 0.0039),
            (28.0, 7.2, 0.0110),
            (24.0, 7.6, 0.0206),
            (20.0, 7.8, 0.0244),
            (24.0, 8.0, 0.0502),
            (28.0, 8.0, 0.0654),
            (30.0, 8.0, 0.0743),
            (20.0, 8.4, 0.0904),
            (28.0, 8.4, 0.1495),
        ] {
            near(fraction(celsius, ph).expect("in range"), want, 6e-5);
        }
    }

    /// Emerson et al. 1975, computed from their formula.
    #[test]
    fn the_formula() {
        for (celsius, want) in [(5.0, 9.9047), (10.0, 9.7314), (20.0, 9.4025), (25.0, 9.2464), (30.0, 9.0954)]
        {
            near(pka(celsius), want, 5e-5);
        }
        for (celsius, ph, want) in
            [(10.0, 7.0, 0.001853), (25.0, 7.0, 0.005639), (25.0, 8.0, 0.053662), (25.0, 8.5, 0.152052)]
        {
            near(fraction(celsius, ph).expect("in range"), want, 1e-6);
        }
    }

    fn read(what: Measure, text: &str) -> i64 {
        reading(what, text).expect(text).milli
    }

    /// UF/IFAS FA031, figure 3: total 1.0 mg/L at pH 8.0 and 24 °C is 0.0502 mg/L un-ionised (seen).
    #[test]
    fn the_worked_example() {
        let sample = Sample { total: 1000, temperature: Some(24_000), ph: Some(8_000), ..Sample::default() };
        let found = unionised(&sample).expect("in range");
        near(found.mg_l, 0.0502, 6e-5);
        assert!(found.may_harm());
        assert_eq!(found.to_string(), "0.050\u{a0}mg/L");
    }

    /// NH3/N 1.21589, NH4/N 1.28786 (computed from molar masses): the same water, whatever the kit reports.
    #[test]
    fn kits_that_report_differently_mean_the_same() {
        for text in ["1.21589 mg/l NH3", "1.28786 mg/l NH4", "1 mg/l N"] {
            let sample = Sample {
                total: read(Measure::Ammonia, text),
                temperature: Some(read(Measure::Temperature, "77 F")),
                ph: Some(read(Measure::Ph, "8,0")),
                ..Sample::default()
            };
            let found = unionised(&sample).expect("in range");
            near(found.as_nitrogen, 0.053662, 1e-5);
            near(found.mg_l, 0.065247, 1e-5);
        }
    }

    #[test]
    fn outside_its_range_there_is_no_answer() {
        for (celsius, ph) in
            [(-0.1, 7.0), (30.1, 7.0), (32.0, 8.0), (24.0, 5.9), (24.0, 10.1), (f64::NAN, 7.0)]
        {
            assert!(fraction(celsius, ph).is_err(), "{celsius} °C, pH {ph}");
        }
        for (celsius, ph) in [(0.0, 6.0), (30.0, 10.0)] {
            assert!(fraction(celsius, ph).is_ok());
        }
        let fresh = Sample { total: 500, temperature: Some(25_000), ph: Some(8_000), ..Sample::default() };
        let with = |change: fn(&mut Sample)| {
            let mut sample = fresh;
            change(&mut sample);
            unionised(&sample)
        };
        assert_eq!(with(|s| s.salinity = Some(500)), Err(NotReckoned::Brackish));
        assert!(with(|s| s.salinity = Some(499)).is_ok());
        assert_eq!(with(|s| s.conductivity = Some(1_500_001)), Err(NotReckoned::MaybeBrackish));
        // known to be fresh by its salinity
        assert!(with(|s| (s.conductivity, s.salinity) = (Some(1_600_000), Some(400))).is_ok());
        assert_eq!(with(|s| s.ph = None), Err(NotReckoned::NoPh));
        assert_eq!(with(|s| s.temperature = None), Err(NotReckoned::NoTemperature));
    }

    #[test]
    fn a_trace_is_not_nothing() {
        let sample = Sample { total: 50, temperature: Some(20_000), ph: Some(6_500), ..Sample::default() };
        let found = unionised(&sample).expect("in range");
        assert_eq!(found.to_string(), "less than 0.001\u{a0}mg/L");
        assert!(!found.may_harm());
        assert_eq!(unionised(&Sample { total: 0, ..sample }).expect("none").to_string(), "0.000\u{a0}mg/L");
    }
}
