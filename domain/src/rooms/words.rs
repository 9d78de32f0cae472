//! The closed lists of words a room's ops use.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

macro_rules! words {
    ($($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident => $word:literal, $plain:literal;)* })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        pub enum $name { $($(#[$vdoc])* #[doc = $plain] #[serde(rename = $word)] $variant,)* }

        impl $name {
            /// Every one of them.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The word in ops and on the command line.
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),* }
            }

            /// In plain words, for people.
            pub fn plain(self) -> &'static str {
                match self { $(Self::$variant => $plain),* }
            }
        }

        impl std::str::FromStr for $name {
            type Err = String;
            fn from_str(text: &str) -> Result<Self, String> {
                Self::ALL.iter().copied().find(|w| w.word() == text).ok_or_else(|| {
                    let all: Vec<&str> = Self::ALL.iter().map(|w| w.word()).collect();
                    format!("{text:?} is none of {}", all.join(", "))
                })
            }
        }
    )*};
}

words! {
    /// How a stock is kept.
    Keeping {
        Individual => "individual", "a single fish";
        Pair => "pair", "a pair";
        Trio => "trio", "a trio";
        Harem => "harem", "a harem";
        Colony => "colony", "a colony";
        GrowOut => "grow_out", "a grow-out";
        Eggs => "eggs", "eggs";
    }

    /// What fish were lost to.
    Cause {
        EggsFailed => "eggs_failed", "eggs failed";
        Jumped => "jumped", "jumped out";
        Fight => "fight", "a fight";
        Spawning => "spawning", "spawning";
        OldAge => "old_age", "old age";
        Eaten => "eaten", "eaten";
        Power => "power_or_heater", "power or heater failed";
        Culled => "culled", "culled";
        Disease => "disease", "disease";
        Unknown => "unknown", "cause not known";
    }

    /// What failed.
    Incident {
        Heater => "heater", "a heater";
        Pump => "pump", "a pump";
        Power => "power", "the power";
        Leak => "leak", "a leak";
        Chlorine => "chlorine", "chlorine in the water";
        Other => "other", "something else";
    }

    /// How a tank or system was emptied: what is left must not carry anything over.
    Emptied {
        Dried => "dried", "dried out";
        Disinfected => "disinfected", "disinfected";
    }

    /// What a water is treated with. Egg care, salt for brackish fish, leaves and conditioner are no treatments.
    TreatedWith {
        Medicine => "medicine", "a medicine";
        Salt => "salt", "salt";
        Heat => "heat", "heat";
        Bath => "bath", "a bath";
        Other => "other", "something else";
    }

    /// Whom fish came from when no parcel brought them.
    CameFrom {
        Shop => "shop", "a shop";
        Person => "person", "a person";
        Wild => "wild", "the wild";
        Show => "show", "a show";
        Other => "other", "elsewhere";
    }

    /// Where fish went that left without a parcel.
    LeftFor {
        Shop => "shop", "a shop";
        Person => "person", "a person";
        Show => "show", "a show";
        Other => "other", "elsewhere";
    }

    /// Where fish without recorded parents are from.
    Origin {
        Wild => "wild", "wild-caught";
        Bought => "bought", "bought";
        Unknown => "unknown", "not known";
    }

    /// Whether founders are related among themselves.
    Related {
        Unrelated => "unrelated", "unrelated";
        Siblings => "siblings", "siblings";
        NotKnown => "not_known", "not known";
    }

    /// What a water reading measures; its unit and how it is kept as an integer stand beside it.
    Measure {
        Temperature => "temperature", "temperature";
        Ph => "ph", "pH";
        Ammonia => "ammonia", "total ammonia";
        Nitrite => "nitrite", "nitrite";
        Nitrate => "nitrate", "nitrate";
        Gh => "gh", "general hardness";
        Kh => "kh", "carbonate hardness";
        Conductivity => "conductivity", "conductivity";
        Salinity => "salinity", "salinity";
    }
}
