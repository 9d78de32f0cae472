//! The arithmetic of a label: the keeper types the label's rate, and it is multiplied by a net volume that is known.
//! Knows no medicine, proposes none and no amount, and never stands without [`CAUTIONS`].

use std::fmt;
use std::str::FromStr;

use super::reading::{MICRO, millionths, number_of, rounded};
use super::thousandths;
use super::volumes::{Missing, Told, litres};
use crate::rooms::ops::Millilitres;

/// What is shown with every amount, for the fish.
pub const CAUTIONS: [&str; 6] = [
    "This only multiplies the rate that you typed. It knows neither the medicine nor your fish: the label, a veterinarian and local law come first.",
    "Snails, shrimp and scaleless fish stand less than others: read what the label says of them.",
    "Carbon and UV take medicine away: the label says when they are off, and when on again.",
    "Many medicines cost oxygen: give more air from the first minute.",
    "Never two medicines together.",
    "While a treatment runs, the quarantine clock does not.",
];

/// What is shown with every amount, for people.
pub const FOR_PEOPLE: [&str; 3] = [
    "Gloves on, and no cuts in the water; see a doctor about a sore that lasts.",
    "Mains off before hands go in.",
    "Neither treated water nor what is left in the bottle goes into nature.",
];

/// Why a text is no rate.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotARate {
    /// Not of this form.
    #[error("{0:?} is no rate; write it as the label does: 5 ml per 40 l, 1 g / 10 l, 2 drops per 10 l")]
    Form(String),
    /// A unit that can't be multiplied.
    #[error("{0:?} can't be reckoned with; write ml, l, mg, g, kg, drops, tablets, sachets or capfuls")]
    Unit(String),
    /// A spoon of whose size nobody knows.
    #[error("a {0} is no measure: weigh or measure it, or ask the maker how much that is")]
    Spoon(String),
    /// The water.
    #[error("{0:?} is no volume of water; write it like 40 l, 10 gal or 10 imp gal")]
    Volume(String),
}

/// What an amount is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measured {
    /// Millilitres.
    Ml,
    /// Litres.
    Litre,
    /// Milligrams.
    Mg,
    /// Grams.
    Gram,
    /// Kilograms.
    Kg,
    /// Drops, from the maker's own dropper.
    Drop,
    /// Tablets.
    Tablet,
    /// Sachets.
    Sachet,
    /// Capfuls, of the maker's own cap.
    Capful,
}

const UNITS: &[(Measured, &[&str])] = &[
    (Measured::Ml, &["ml", "millilitre", "millilitres", "milliliter", "milliliters"]),
    (Measured::Litre, &["l", "litre", "litres", "liter", "liters"]),
    (Measured::Mg, &["mg", "milligram", "milligrams"]),
    (Measured::Gram, &["g", "gram", "grams"]),
    (Measured::Kg, &["kg", "kilogram", "kilograms"]),
    (Measured::Drop, &["drop", "drops"]),
    (Measured::Tablet, &["tablet", "tablets"]),
    (Measured::Sachet, &["sachet", "sachets"]),
    (Measured::Capful, &["capful", "capfuls", "cap", "caps"]),
];

impl Measured {
    fn word(self, one: bool) -> &'static str {
        match (self, one) {
            (Self::Ml, _) => "ml",
            (Self::Litre, _) => "l",
            (Self::Mg, _) => "mg",
            (Self::Gram, _) => "g",
            (Self::Kg, _) => "kg",
            (Self::Drop, true) => "drop",
            (Self::Drop, false) => "drops",
            (Self::Tablet, true) => "tablet",
            (Self::Tablet, false) => "tablets",
            (Self::Sachet, true) => "sachet",
            (Self::Sachet, false) => "sachets",
            (Self::Capful, true) => "capful",
            (Self::Capful, false) => "capfuls",
        }
    }
}

/// A label's rate: so much to so much water.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rate {
    /// How much, in millionths.
    amount: i128,
    /// Of what.
    unit: Measured,
    /// To so much water.
    water: Millilitres,
}

/// A rate times a volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Amount {
    /// In thousandths.
    pub milli: i64,
    /// Of what.
    pub unit: Measured,
    /// Whether it comes out even; if not, it was rounded to thousandths.
    pub exact: bool,
}

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let about = if self.exact { "" } else { "about " };
        write!(f, "{about}{}\u{a0}{}", thousandths(self.milli), self.unit.word(self.milli == 1000))
    }
}

impl fmt::Display for Rate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (amount, one) = (six_places(self.amount), self.amount == MICRO);
        write!(f, "{amount}\u{a0}{} per {}", self.unit.word(one), litres(self.water.0.into()))
    }
}

fn six_places(millionths: i128) -> String {
    let part = format!("{:06}", millionths % MICRO);
    let part = part.trim_end_matches('0');
    if part.is_empty() { format!("{}", millionths / MICRO) } else { format!("{}.{part}", millionths / MICRO) }
}

impl FromStr for Rate {
    type Err = NotARate;

    fn from_str(text: &str) -> Result<Self, NotARate> {
        let no = || NotARate::Form(text.trim().to_owned());
        let lower = text.trim().to_lowercase();
        let (what, water) = [" per ", "/", " to ", " for "]
            .into_iter()
            .find_map(|between| lower.split_once(between))
            .ok_or_else(no)?;
        let (number, unit) = number_of(what.trim()).ok_or_else(no)?;
        let amount = millionths(number).filter(|n| (1..=1_000_000 * MICRO).contains(n)).ok_or_else(no)?;
        let unit = unit.trim();
        if ["tsp", "tbsp", "teaspoon", "teaspoons", "tablespoon", "tablespoons", "spoon", "pinch"]
            .contains(&unit)
        {
            return Err(NotARate::Spoon(unit.to_owned()));
        }
        let found = UNITS.iter().find(|(_, spellings)| spellings.contains(&unit));
        let (unit, _) = found.ok_or_else(|| NotARate::Unit(unit.to_owned()))?;
        // "2 mg/l" is to one litre
        let water = water.trim();
        let with_number = if water.starts_with(|c: char| c.is_alphabetic()) {
            format!("1 {water}")
        } else {
            water.to_owned()
        };
        let no_volume = || NotARate::Volume(water.to_owned());
        // a bare number of what, nobody says
        let (_, water_unit) = number_of(&with_number).ok_or_else(no_volume)?;
        let read = super::volume(&with_number).map_err(|_| no_volume())?;
        if water_unit.trim().is_empty() || read.0 == 0 {
            return Err(no_volume());
        }
        Ok(Self { amount, unit: *unit, water: read })
    }
}

impl Rate {
    /// How much that is for a net volume. Only for one that is known.
    ///
    /// # Errors
    /// What the volume can't be told without.
    pub fn times(&self, net: &Told) -> Result<Amount, Vec<Missing>> {
        let net = net.as_ref().map_err(Clone::clone)?;
        let (a, b) = (self.amount * i128::from(net.ml), i128::from(self.water.0) * 1000);
        let milli = i64::try_from(rounded(a, b)).map_err(|_| vec![Missing::Contradiction])?;
        Ok(Amount { milli, unit: self.unit, exact: a % b == 0 })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::rooms::water::volumes::{How, Volume};

    fn known(ml: u64) -> Told {
        Ok(Volume { ml, how: How::Measured })
    }

    fn amount(rate: &str, ml: u64) -> String {
        let rate: Rate = rate.parse().unwrap_or_else(|e| panic!("{rate}: {e}"));
        rate.times(&known(ml)).expect("known").to_string().replace('\u{a0}', " ")
    }

    /// Plain multiplication; 1 US gallon is 3.785411784 l and 1 imperial gallon 4.54609 l (NIST SP 811; UK Units of
    /// Measurement Regulations 1995), both kept to a millilitre.
    #[test]
    fn a_rate_is_multiplied() {
        assert_eq!(amount("5 ml per 40 l", 480_000), "60 ml");
        assert_eq!(amount("1 g / 10 l", 54_500), "5.45 g");
        assert_eq!(amount("1g/10l", 10_000), "1 g");
        assert_eq!(amount("2 drops per 10 litres", 54_000), "10.8 drops");
        assert_eq!(amount("1 tablet to 20 l", 20_000), "1 tablet");
        assert_eq!(amount("1 tablet per 20 l", 50_000), "2.5 tablets");
        assert_eq!(amount("2,5 mg/l", 100_000), "250 mg");
        assert_eq!(amount("0.000125 kg per l", 8_000), "0.001 kg");
        assert_eq!(amount("1 capful for 10 gal", 37_854), "1 capful");
        assert_eq!(amount("5 ml per 10 imp gal", 45_461), "5 ml");
        assert_eq!(amount("5 ml per 30 l", 100_000), "about 16.667 ml");
    }

    #[test]
    fn a_rate_is_read_back() {
        let rate: Rate = "2,50 Drops / 10 L".parse().expect("a rate");
        assert_eq!(rate.to_string().replace('\u{a0}', " "), "2.5 drops per 10 l");
    }

    #[test]
    fn what_is_no_rate_says_why() {
        for wrong in ["", "5 ml", "per 40 l", "-5 ml per 40 l", "0 ml per 40 l", "5 ml of per 40 l"] {
            assert!(wrong.parse::<Rate>().is_err(), "{wrong}");
        }
        assert_eq!("5 scoops per 40 l".parse::<Rate>(), Err(NotARate::Unit("scoops".into())));
        assert_eq!("1 tsp per 40 l".parse::<Rate>(), Err(NotARate::Spoon("tsp".into())));
        for wrong in ["5 ml per 40", "5 ml per 0 l", "5 ml per tank", "5 ml per -4 l", "5 ml per 40 kg"] {
            assert!(matches!(wrong.parse::<Rate>(), Err(NotARate::Volume(_))), "{wrong}");
        }
    }

    #[test]
    fn without_a_volume_there_is_no_amount() {
        let rate: Rate = "5 ml per 40 l".parse().expect("a rate");
        assert_eq!(rate.times(&Err(vec![Missing::Sump])), Err(vec![Missing::Sump]));
    }

    #[test]
    fn no_caution_is_forgotten() {
        let all = [CAUTIONS.as_slice(), FOR_PEOPLE.as_slice()].concat().join(" ").to_lowercase();
        for word in [
            "snails",
            "shrimp",
            "scaleless",
            "carbon",
            "uv",
            "air",
            "two medicines",
            "label",
            "veterinarian",
            "local law",
            "gloves",
            "cuts",
            "doctor",
            "mains",
            "nature",
        ] {
            assert!(all.contains(word), "{word}");
        }
    }

    proptest! {
        #[test]
        fn rates_never_panic(text in "[0-9.,-]{0,8} ?(ml|g|drops|l|\\PC{0,4}) ?(per|/|to)? ?[0-9.,]{0,8} ?(l|gal|imp gal|\\PC{0,3})", ml in 0u64..u64::from(u32::MAX) * 100) {
            if let Ok(rate) = text.parse::<Rate>() {
                let _ = rate.times(&known(ml));
            }
        }
    }
}
