//! What follows from the newest readings of one water by named formulas, in words: free carbon dioxide, conductivity
//! at 25 °C, how much oxygen it can hold. Shown, never stored; left out where a formula does not hold.

use super::chemistry::{
    CO2_FORMULA, CO2_RULE, LINEAR, OXYGEN_FORMULA, PER_KELVIN, co2, co2_by_rule, conductivity_at_25,
    oxygen_saturation,
};
use super::meaning::{Value, near, nearest, newest};
use crate::rooms::words::Measure;

/// One thing that follows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Derived {
    /// What it is.
    pub name: &'static str,
    /// How much.
    pub says: String,
    /// By which formula, and where it fails.
    pub by: String,
}

/// All that follows from the readings of one water.
pub fn derived(values: &[Value]) -> Vec<Derived> {
    [carbon_dioxide(values), conductivity(values), oxygen(values)].into_iter().flatten().collect()
}

fn carbon_dioxide(values: &[Value]) -> Option<Derived> {
    let ph = newest(values, Measure::Ph)?;
    let (kh, celsius) = (near(values, Measure::Kh, ph.at)?, near(values, Measure::Temperature, ph.at)?);
    let found = co2(kh.whole(), ph.whole(), celsius.whole()).ok()?;
    let by_rule = co2_by_rule(kh.whole(), ph.whole());
    Some(Derived {
        name: "Free carbon dioxide",
        says: format!("about {found:.0}\u{a0}mg/L"),
        by: format!(
            "{CO2_FORMULA}; not with peat, phosphate buffers or liquid carbon. \
             The rule 3 × KH × 10^(7 − pH) says {by_rule:.0}\u{a0}mg/L ({CO2_RULE})"
        ),
    })
}

fn conductivity(values: &[Value]) -> Option<Derived> {
    let ec = newest(values, Measure::Conductivity)?;
    let celsius = near(values, Measure::Temperature, ec.at)?;
    let found = conductivity_at_25(ec.whole(), celsius.whole(), PER_KELVIN).ok()?;
    Some(Derived {
        name: "Conductivity at 25\u{a0}°C",
        says: format!("{found:.0}\u{a0}µS/cm, if your meter does not convert by itself"),
        by: LINEAR.to_owned(),
    })
}

fn oxygen(values: &[Value]) -> Option<Derived> {
    let celsius = newest(values, Measure::Temperature)?;
    let salt = nearest(values, Measure::Salinity, celsius.at).map_or(0.0, |salt| salt.whole());
    let found = oxygen_saturation(celsius.whole(), salt).ok()?;
    Some(Derived {
        name: "Oxygen it can hold",
        says: format!("{found:.1}\u{a0}mg/L, in balance with air"),
        by: format!("{OXYGEN_FORMULA} (from memory); warm water holds less"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::streams::At;

    fn value(hours: i64, what: Measure, milli: i64) -> Value {
        Value { at: At::from_seconds(1_780_000_000 + hours * 3600), what, milli }
    }

    /// From memory: KH 4, pH 6.8 at 25 °C is 22.4 mg/L with pK1 of Plummer & Busenberg 1982, and 19.0 by the rule;
    /// Benson & Krause 1984: 8.263 mg/L oxygen at 25 °C. Computed: 500 µS/cm at 25 °C is 500.
    #[test]
    fn what_follows_is_named() {
        let all = [
            value(0, Measure::Temperature, 25_000),
            value(0, Measure::Ph, 6_800),
            value(-20, Measure::Kh, 4_000),
            value(0, Measure::Conductivity, 500_000),
        ];
        let says: Vec<String> =
            derived(&all).into_iter().map(|d| format!("{} {}; {}", d.name, d.says, d.by)).collect();
        assert!(says[0].contains("about 22\u{a0}mg/L") && says[0].contains("says 19\u{a0}mg/L"), "{says:?}");
        assert!(says[1].contains("500\u{a0}µS/cm") && says[1].contains("2 % a kelvin"), "{says:?}");
        assert!(says[2].contains("8.3\u{a0}mg/L"), "{says:?}");
        // readings of other days say nothing together
        let apart = [
            value(0, Measure::Ph, 6_800),
            value(30, Measure::Kh, 4_000),
            value(31, Measure::Temperature, 25_000),
        ];
        let names: Vec<&str> = derived(&apart).iter().map(|d| d.name).collect();
        assert_eq!(names, ["Oxygen it can hold"]);
    }
}
