//! What follows from readings by named formulas: conductivity at 25 °C, free carbon dioxide, and how much oxygen water
//! can hold. Shown, never stored; each says where it does not hold.

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{formula} holds from {from} to {to} {unit}, and this is {value}")]
pub struct OutOfRange {
    /// Which formula.
    pub formula: &'static str,
    /// From.
    pub from: f64,
    /// To.
    pub to: f64,
    /// Of what.
    pub unit: &'static str,
    /// What was asked for.
    pub value: f64,
}

fn within(
    formula: &'static str,
    unit: &'static str,
    (from, to): (f64, f64),
    value: f64,
) -> Result<f64, OutOfRange> {
    if (from..=to).contains(&value) { Ok(value) } else { Err(OutOfRange { formula, from, to, unit, value }) }
}

/// How the conversion of conductivity is named wherever it is shown.
pub const LINEAR: &str = "linear, 2 % a kelvin";
/// The share by which conductivity rises a kelvin: what most meters' manuals have. ISO 7888 has a curve instead.
pub const PER_KELVIN: f64 = 0.02;

/// Conductivity as it would be at 25 °C: `EC / (1 + a (T − 25))`. For a meter that does not do so itself.
///
/// # Errors
/// Outside 0 to 40 °C (no source; a straight line is no good far from 25 °C).
pub fn conductivity_at_25(ec: f64, celsius: f64, per_kelvin: f64) -> Result<f64, OutOfRange> {
    let celsius = within("conversion to 25 °C", "°C", (0.0, 40.0), celsius)?;
    Ok(ec / (1.0 + per_kelvin * (celsius - 25.0)))
}

/// How the formula for carbon dioxide is named wherever it is shown.
pub const CO2_FORMULA: &str = "carbonate equilibrium, pK1 of Plummer & Busenberg 1982 (from memory)";
/// What is said of the rule of thumb `3 × KH × 10^(7 − pH)`.
pub const CO2_RULE: &str = "common practice, about 15 % low at 25 °C";

/// pK1 of carbonic acid, Plummer & Busenberg 1982, Geochim. Cosmochim. Acta 46:1011-1040.
pub fn pk1(celsius: f64) -> f64 {
    let t = celsius + 273.15;
    let log_k1 = -356.3094 - 0.060_919_64 * t + 21_834.37 / t + 126.8339 * t.log10() - 1_684_915.0 / (t * t);
    -log_k1
}

/// Free carbon dioxide in mg/L from carbonate hardness in °dH, pH and temperature, where all alkalinity is
/// bicarbonate: humic acids, phosphate buffers and liquid carbon make it wrong.
///
/// # Errors
/// Outside 0 to 40 °C or pH 5 to 8.5, where carbonate is no longer nothing.
pub fn co2(kh: f64, ph: f64, celsius: f64) -> Result<f64, OutOfRange> {
    let celsius = within(CO2_FORMULA, "°C", (0.0, 40.0), celsius)?;
    let ph = within(CO2_FORMULA, "pH", (5.0, 8.5), ph)?;
    let alkalinity = kh * MEQ_PER_DKH;
    Ok(alkalinity * 10_f64.powf(pk1(celsius) - ph) * 44.009)
}

/// 1 °dKH is 0.35665 meq/L (computed from the definition, IUPAC masses).
pub const MEQ_PER_DKH: f64 = 0.356_652_460_010_342_9;

/// The rule of thumb: `3 × KH × 10^(7 − pH)`.
pub fn co2_by_rule(kh: f64, ph: f64) -> f64 {
    3.0 * kh * 10_f64.powf(7.0 - ph)
}

/// How the formula for oxygen is named wherever it is shown.
pub const OXYGEN_FORMULA: &str = "Benson & Krause 1984, at 1 atm";

/// How much oxygen water in balance with air holds, in mg/L at 1 atm (as in APHA 4500-O; from memory).
///
/// # Errors
/// Outside 0 to 40 °C or 0 to 40 g/kg.
pub fn oxygen_saturation(celsius: f64, salinity: f64) -> Result<f64, OutOfRange> {
    let t = within(OXYGEN_FORMULA, "°C", (0.0, 40.0), celsius)? + 273.15;
    let s = within(OXYGEN_FORMULA, "g/kg", (0.0, 40.0), salinity)?;
    let fresh = -139.344_11 + 1.575_701e5 / t - 6.642_308e7 / t.powi(2) + 1.243_800e10 / t.powi(3)
        - 8.621_949e11 / t.powi(4);
    Ok((fresh - s * (1.7674e-2 - 10.754 / t + 2140.7 / t.powi(2))).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "{got} is not {want}");
    }

    /// 2 % a kelvin: instrument manuals (computed); 1.91 %: Standard Methods 2510 (from memory).
    #[test]
    fn conductivity() {
        for (ec, celsius, per_kelvin, want) in [
            (500.0, 20.0, PER_KELVIN, 555.5556),
            (500.0, 28.0, PER_KELVIN, 471.6981),
            (1000.0, 15.0, 0.0191, 1236.0939),
            (700.0, 25.0, PER_KELVIN, 700.0),
        ] {
            near(conductivity_at_25(ec, celsius, per_kelvin).expect("in range"), want, 1e-3);
        }
        assert!(conductivity_at_25(500.0, -3.0, PER_KELVIN).is_err());
    }

    /// From memory: Plummer & Busenberg 1982, whose published value at 25 °C is 6.352.
    #[test]
    fn carbonic_acid() {
        for (celsius, want) in [(15.0, 6.4188), (20.0, 6.3819), (25.0, 6.352), (30.0, 6.3281)] {
            near(pk1(celsius), want, 5e-4);
        }
    }

    /// From memory: [CO2] = alkalinity × 10^(pK1 − pH) × 44.009; the rule of thumb beside it is common practice.
    #[test]
    fn carbon_dioxide_by_formula_and_by_rule() {
        for (kh, ph, want, by_rule) in
            [(1.0, 7.0, 3.529, 3.0), (4.0, 6.8, 22.372, 19.019), (8.0, 7.4, 11.239, 9.555)]
        {
            let found = co2(kh, ph, 25.0).expect("in range");
            near(found, want, 5e-3);
            near(co2_by_rule(kh, ph), by_rule, 5e-3);
            near(1.0 - co2_by_rule(kh, ph) / found, 0.15, 5e-3);
        }
        assert!(co2(4.0, 9.0, 25.0).is_err() && co2(4.0, 7.0, 41.0).is_err());
    }

    /// 1 °dKH is 0.35665 meq/L and 21.761 mg/L bicarbonate (computed).
    #[test]
    fn alkalinity() {
        near(MEQ_PER_DKH, 0.35665, 1e-3);
        near(MEQ_PER_DKH * 61.016, 21.7615, 1e-3);
    }

    /// From memory: Benson & Krause 1984 / APHA 4500-O, fresh water at 1 atm.
    #[test]
    fn oxygen() {
        for (celsius, want) in [(20.0, 9.092), (25.0, 8.263)] {
            near(oxygen_saturation(celsius, 0.0).expect("in range"), want, 2e-3);
        }
        let (fresh, salt) = (oxygen_saturation(25.0, 0.0), oxygen_saturation(25.0, 30.0));
        assert!(salt.expect("in range") < fresh.expect("in range"));
        assert!(oxygen_saturation(-1.0, 0.0).is_err());
    }
}
