//! An amount of money: an integer of the currency's minor unit, and its ISO 4217 code. No arithmetic and no rates.

use std::fmt;

/// Codes of ISO 4217 in use, by how many digits their minor unit has.
const WITHOUT: &str = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF";
const THREE: &str = "BHD IQD JOD KWD LYD OMR TND";
const TWO: &str = "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF \
    CHF CNY COP CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR \
    ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR \
    MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP \
    STN SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD UYU UZS VES WST XCD YER ZAR ZMW";

/// More than this is a slip of the hand; the number stands for nothing else.
const MOST_MINOR: i64 = 100_000_000_000;

/// A price.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Price {
    /// In the minor unit of the currency.
    pub minor: i64,
    /// ISO 4217.
    pub currency: String,
}

/// Why something is no price.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAPrice {
    /// No such currency.
    #[error("{0:?} is no currency; write a code of ISO 4217, as EUR, GBP or USD")]
    Currency(String),
    /// No amount.
    #[error("{0:?} is no amount; write it as 12 or 12.50")]
    Amount(String),
    /// Nothing, or far too much.
    #[error("a price is more than nothing, and within reason")]
    OutOfBounds,
}

/// How many digits the minor unit of a currency has; none for what is no currency.
pub fn digits(currency: &str) -> Option<u32> {
    let in_list = |list: &str| list.split_whitespace().any(|code| code == currency);
    [(TWO, 2), (WITHOUT, 0), (THREE, 3)].into_iter().find(|(list, _)| in_list(list)).map(|(_, digits)| digits)
}

impl Price {
    /// Of an amount in minor units.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn of(minor: i64, currency: &str) -> Result<Self, NotAPrice> {
        let currency = currency.trim().to_uppercase();
        if digits(&currency).is_none() {
            return Err(NotAPrice::Currency(currency));
        }
        if !(1..=MOST_MINOR).contains(&minor) {
            return Err(NotAPrice::OutOfBounds);
        }
        Ok(Self { minor, currency })
    }

    /// Of an amount as people write it: "12", "12.50", "12,5".
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn typed(amount: &str, currency: &str) -> Result<Self, NotAPrice> {
        let currency = currency.trim().to_uppercase();
        let digits = digits(&currency).ok_or_else(|| NotAPrice::Currency(currency.clone()))?;
        let wrong = || NotAPrice::Amount(amount.trim().to_owned());
        let (whole, part) = amount.trim().split_once(['.', ',']).unwrap_or((amount.trim(), ""));
        let plain = |text: &str| text.bytes().all(|b| b.is_ascii_digit()) && text.len() <= 12;
        let places = usize::try_from(digits).unwrap_or(0);
        if whole.is_empty() || !plain(whole) || !plain(part) || part.len() > places {
            return Err(wrong());
        }
        let minor = format!("{whole}{part:0<places$}").parse().map_err(|_| wrong())?;
        Self::of(minor, &currency)
    }
}

impl fmt::Display for Price {
    /// "EUR 12.50".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let digits = digits(&self.currency).unwrap_or(0);
        let unit = 10_i64.pow(digits);
        write!(f, "{}\u{a0}{}", self.currency, self.minor / unit)?;
        if digits > 0 {
            write!(f, ".{:0width$}", self.minor % unit, width = usize::try_from(digits).unwrap_or(0))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_read_and_told_in_the_currency_s_own_digits() {
        for (typed, currency, minor, told) in [
            ("12.50", "EUR", 1250, "EUR\u{a0}12.50"),
            ("12,5", "eur", 1250, "EUR\u{a0}12.50"),
            ("0.05", "GBP", 5, "GBP\u{a0}0.05"),
            ("900", "JPY", 900, "JPY\u{a0}900"),
            ("1.5", "KWD", 1500, "KWD\u{a0}1.500"),
        ] {
            let price = Price::typed(typed, currency).expect(typed);
            assert_eq!((price.minor, price.to_string()), (minor, told.to_owned()));
        }
        for (typed, currency) in [
            ("", "EUR"),
            ("12.505", "EUR"),
            ("1.5", "JPY"),
            ("-3", "EUR"),
            ("12", "EURO"),
            ("0", "EUR"),
            ("1.2.3", "EUR"),
        ] {
            assert!(Price::typed(typed, currency).is_err(), "{typed} {currency}");
        }
        assert_eq!(Price::of(0, "EUR"), Err(NotAPrice::OutOfBounds));
    }
}
