//! How long parasites' stages last, as data with their sources, each at the temperatures its source has and nowhere
//! else: never between two of them, never beyond, but for a formula inside its own range. Proposes no treatment.

/// Thousandths of °C.
pub type Milli = i64;

/// A parasite that somebody measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Parasite {
    /// White spot, *Ichthyophthirius multifiliis*.
    WhiteSpot,
    /// A gill fluke that lays eggs, *Dactylogyrus vastator*.
    GillFluke,
    /// A skin fluke that bears young, on guppies: *Gyrodactylus bullatarudis*.
    SkinFlukeOfGuppies,
    /// A skin fluke that bears young, on salmon: *Gyrodactylus salaris*.
    SkinFlukeOfSalmon,
    /// A gill fluke of trout, *Discocotyle sagittata*.
    GillFlukeOfTrout,
    /// A microsporidian of salmonids' gills, *Loma salmonae*.
    Loma,
}

impl Parasite {
    /// Every one of them.
    pub const ALL: [Self; 6] = [
        Self::WhiteSpot,
        Self::GillFluke,
        Self::SkinFlukeOfGuppies,
        Self::SkinFlukeOfSalmon,
        Self::GillFlukeOfTrout,
        Self::Loma,
    ];

    /// The word on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Self::WhiteSpot => "white-spot",
            Self::GillFluke => "gill-fluke",
            Self::SkinFlukeOfGuppies => "skin-fluke-of-guppies",
            Self::SkinFlukeOfSalmon => "skin-fluke-of-salmon",
            Self::GillFlukeOfTrout => "gill-fluke-of-trout",
            Self::Loma => "loma",
        }
    }

    /// In plain words.
    pub fn plain(self) -> &'static str {
        match self {
            Self::WhiteSpot => "white spot",
            Self::GillFluke => "gill fluke",
            Self::SkinFlukeOfGuppies => "skin fluke of guppies",
            Self::SkinFlukeOfSalmon => "skin fluke of salmon",
            Self::GillFlukeOfTrout => "gill fluke of trout",
            Self::Loma => "gill microsporidian of salmonids",
        }
    }

    /// The scientific name.
    pub fn species(self) -> &'static str {
        match self {
            Self::WhiteSpot => "Ichthyophthirius multifiliis",
            Self::GillFluke => "Dactylogyrus vastator",
            Self::SkinFlukeOfGuppies => "Gyrodactylus bullatarudis",
            Self::SkinFlukeOfSalmon => "Gyrodactylus salaris",
            Self::GillFlukeOfTrout => "Discocotyle sagittata",
            Self::Loma => "Loma salmonae",
        }
    }
}

/// What was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// From the laying of eggs to the first that hatch.
    FirstHatch,
    /// From the first egg that hatches to the last.
    Hatching,
    /// From the egg to a fluke that lays eggs.
    Maturity,
    /// From the settling on a fish to leaving it.
    OnFish,
    /// One whole cycle.
    Cycle,
    /// How long one lives.
    Life,
    /// How long its number takes to double.
    Doubling,
    /// From infection to cysts that can be seen.
    Onset,
}

impl Stage {
    /// In plain words.
    pub fn plain(self) -> &'static str {
        match self {
            Self::FirstHatch => "first eggs hatch after",
            Self::Hatching => "eggs go on hatching for",
            Self::Maturity => "from egg to laying eggs",
            Self::OnFish => "grows on the fish for",
            Self::Cycle => "one whole cycle takes",
            Self::Life => "one lives at most",
            Self::Doubling => "their number doubles in",
            Self::Onset => "cysts show after",
        }
    }
}

/// At which temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Where {
    /// At exactly this.
    At(Milli),
    /// Anywhere above.
    Above(Milli),
    /// Anywhere below.
    Below(Milli),
    /// Anywhere in the range of a formula, its ends included.
    In(Milli, Milli),
}

impl Where {
    fn holds(self, temperature: Milli) -> bool {
        match self {
            Self::At(t) => temperature == t,
            Self::Above(t) => temperature > t,
            Self::Below(t) => temperature < t,
            Self::In(from, to) => (from..=to).contains(&temperature),
        }
    }
}

/// How long.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Days {
    /// So many.
    Are(f64),
    /// About so many, as the source says.
    About(f64),
    /// Fewer than so many.
    Under(f64),
    /// More than so many.
    Over(f64),
    /// From so many to so many.
    From(f64, f64),
}

/// How a source tells it.
#[derive(Debug, Clone, Copy)]
pub enum Told {
    /// As a number.
    Fixed(Days),
    /// By a formula of the temperature in °C.
    By(fn(f64) -> f64),
}

/// One thing that a source says.
#[derive(Debug, Clone, Copy)]
pub struct Fact {
    /// Of which parasite.
    pub parasite: Parasite,
    /// Of which stage of it.
    pub stage: Stage,
    /// At which temperature.
    pub at: Where,
    /// How long.
    pub told: Told,
    /// Who measured or says it.
    pub source: &'static str,
}

const ZHANG: &str = "Zhang et al. 2015, Acta Hydrobiol. Sinica 39(6):1177-1183";
const SUISAN: &str = "Suisan Gakkaishi 3(5):265, 1935, abstract";
const SRAC: &str = "Durborow, Mitchell & Crosby 1998, SRAC 476";
const BEAMAN: &str = "Beaman, Speare & Brimacombe 1999, J. Aquat. Anim. Health 11:237-245";
const GANNICOTT: &str = "Gannicott & Tinsley, Parasitology, abstract";
const SCOTT: &str = "Scott & Nokes 1984, Parasitology 89, on guppies";
const JANSEN: &str = "Jansen & Bakke 1991, Parasitology 102:105-112";

const fn fact(parasite: Parasite, stage: Stage, at: Where, days: Days, source: &'static str) -> Fact {
    Fact { parasite, stage, at, told: Told::Fixed(days), source }
}

/// From 9 to 20 °C.
const fn loma(formula: fn(f64) -> f64) -> Fact {
    let at = Where::In(9_000, 20_000);
    Fact { parasite: Parasite::Loma, stage: Stage::Onset, at, told: Told::By(formula), source: BEAMAN }
}

/// All that is known here.
pub const FACTS: &[Fact] = &[
    fact(Parasite::WhiteSpot, Stage::OnFish, Where::At(7_000), Days::About(20.0), SUISAN),
    fact(Parasite::WhiteSpot, Stage::OnFish, Where::At(14_000), Days::About(14.0), SUISAN),
    fact(Parasite::WhiteSpot, Stage::OnFish, Where::At(20_000), Days::About(7.0), SUISAN),
    fact(Parasite::WhiteSpot, Stage::Cycle, Where::Above(24_000), Days::Under(4.0), SRAC),
    fact(Parasite::WhiteSpot, Stage::Cycle, Where::Below(7_000), Days::Over(35.0), SRAC),
    fact(Parasite::GillFluke, Stage::FirstHatch, Where::At(10_000), Days::Are(19.0), ZHANG),
    fact(Parasite::GillFluke, Stage::Hatching, Where::At(10_000), Days::Are(24.0), ZHANG),
    fact(Parasite::GillFluke, Stage::FirstHatch, Where::At(20_000), Days::Are(3.0), ZHANG),
    fact(Parasite::GillFluke, Stage::Hatching, Where::At(20_000), Days::Are(5.0), ZHANG),
    fact(Parasite::GillFluke, Stage::Maturity, Where::At(20_000), Days::From(8.0, 11.0), ZHANG),
    fact(Parasite::GillFluke, Stage::FirstHatch, Where::At(35_000), Days::Are(1.5), ZHANG),
    fact(Parasite::GillFluke, Stage::Hatching, Where::At(35_000), Days::Are(3.0), ZHANG),
    fact(Parasite::SkinFlukeOfGuppies, Stage::Doubling, Where::At(27_500), Days::About(3.014), SCOTT),
    fact(Parasite::SkinFlukeOfGuppies, Stage::Life, Where::At(21_000), Days::Are(5.5), SCOTT),
    fact(Parasite::SkinFlukeOfGuppies, Stage::Life, Where::At(30_000), Days::Are(0.0), SCOTT),
    fact(Parasite::SkinFlukeOfSalmon, Stage::Life, Where::At(2_500), Days::Are(33.7), JANSEN),
    fact(Parasite::SkinFlukeOfSalmon, Stage::Life, Where::At(19_000), Days::Are(4.5), JANSEN),
    fact(Parasite::GillFlukeOfTrout, Stage::FirstHatch, Where::At(6_000), Days::Are(84.0), GANNICOTT),
    fact(Parasite::GillFlukeOfTrout, Stage::FirstHatch, Where::At(13_000), Days::Are(28.0), GANNICOTT),
    loma(loma_by_curve),
    loma(loma_by_degree_days),
];

/// `320 − 33.4 T + 0.9547 T²`, from 9 to 20 °C.
fn loma_by_curve(celsius: f64) -> f64 {
    320.0 - 33.4 * celsius + 0.9547 * celsius * celsius
}

/// 298.6 degree-days above 7 °C, from 9 to 20 °C.
fn loma_by_degree_days(celsius: f64) -> f64 {
    298.6 / (celsius - 7.0)
}

/// What is known of a parasite at a temperature: nothing is also an answer.
pub fn at(parasite: Parasite, temperature: Milli) -> Vec<(&'static Fact, Days)> {
    let known = FACTS.iter().filter(|fact| fact.parasite == parasite && fact.at.holds(temperature));
    let days = |fact: &Fact| match fact.told {
        Told::Fixed(days) => days,
        #[allow(clippy::cast_precision_loss, reason = "inside the formula's range it has five digits")]
        Told::By(formula) => Days::About(formula(temperature as f64 / 1000.0)),
    };
    known.map(|fact| (fact, days(fact))).collect()
}

/// The temperatures for which anything is known of a parasite, rising.
pub fn known_at(parasite: Parasite) -> Vec<Where> {
    let mut all: Vec<Where> = Vec::new();
    for fact in FACTS.iter().filter(|fact| fact.parasite == parasite) {
        if !all.contains(&fact.at) {
            all.push(fact.at);
        }
    }
    all.sort_by_key(|place| match *place {
        Where::Below(t) => (t, 0),
        Where::At(t) => (t, 1),
        Where::In(t, _) => (t, 2),
        Where::Above(t) => (t, 3),
    });
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(parasite: Parasite, stage: Stage, temperature: Milli) -> Option<Days> {
        at(parasite, temperature).into_iter().find(|(fact, _)| fact.stage == stage).map(|(_, days)| days)
    }

    /// Zhang et al. 2015, Acta Hydrobiol. Sinica 39(6):1177-1183 (seen).
    #[test]
    fn gill_flukes_hatch() {
        let fluke = Parasite::GillFluke;
        for (temperature, first, hatching) in [(10_000, 19.0, 24.0), (20_000, 3.0, 5.0), (35_000, 1.5, 3.0)] {
            assert_eq!(one(fluke, Stage::FirstHatch, temperature), Some(Days::Are(first)));
            assert_eq!(one(fluke, Stage::Hatching, temperature), Some(Days::Are(hatching)));
        }
        assert_eq!(one(fluke, Stage::Maturity, 20_000), Some(Days::From(8.0, 11.0)));
    }

    /// Suisan Gakkaishi 3(5):265 (1935), abstract: about 20 days at 7 °C, 2 weeks at 14, 1 week at 20 (seen); SRAC 476:
    /// under 4 days above 24 °C, over 5 weeks below 7 °C (seen, a quoted sentence).
    #[test]
    fn white_spot() {
        let spot = Parasite::WhiteSpot;
        for (temperature, days) in [(7_000, 20.0), (14_000, 14.0), (20_000, 7.0)] {
            assert_eq!(one(spot, Stage::OnFish, temperature), Some(Days::About(days)));
        }
        assert_eq!(one(spot, Stage::Cycle, 24_001), Some(Days::Under(4.0)));
        assert_eq!(one(spot, Stage::Cycle, 6_999), Some(Days::Over(35.0)));
        assert_eq!((one(spot, Stage::Cycle, 24_000), one(spot, Stage::Cycle, 7_000)), (None, None));
    }

    /// Scott & Nokes 1984: 0.23 a day at 27.5 °C, so doubled in 3.014 days; longest life 5.5 days at 21 °C, none at
    /// 30 °C. Jansen & Bakke 1991: 33.7 days at 2.5 °C, 4.5 at 19. Gannicott & Tinsley: 84 days at 6 °C, 28 at 13.
    /// All seen.
    #[test]
    fn other_flukes() {
        assert_eq!(one(Parasite::SkinFlukeOfGuppies, Stage::Doubling, 27_500), Some(Days::About(3.014)));
        assert!((2.0_f64.ln() / 0.23 - 3.014).abs() < 0.01);
        assert_eq!(one(Parasite::SkinFlukeOfGuppies, Stage::Life, 21_000), Some(Days::Are(5.5)));
        assert_eq!(one(Parasite::SkinFlukeOfGuppies, Stage::Life, 30_000), Some(Days::Are(0.0)));
        assert_eq!(one(Parasite::SkinFlukeOfSalmon, Stage::Life, 2_500), Some(Days::Are(33.7)));
        assert_eq!(one(Parasite::SkinFlukeOfSalmon, Stage::Life, 19_000), Some(Days::Are(4.5)));
        assert_eq!(one(Parasite::GillFlukeOfTrout, Stage::FirstHatch, 6_000), Some(Days::Are(84.0)));
        assert_eq!(one(Parasite::GillFlukeOfTrout, Stage::FirstHatch, 13_000), Some(Days::Are(28.0)));
    }

    /// Beaman, Speare & Brimacombe 1999: two formulas, both from 9 to 20 °C (seen).
    #[test]
    fn a_formula_holds_inside_its_range_only() {
        for (temperature, curve, degree_days) in [(12_000, 56.68, 59.72), (15_000, 33.81, 37.33)] {
            let found: Vec<f64> = at(Parasite::Loma, temperature)
                .into_iter()
                .map(|(_, days)| if let Days::About(days) = days { days } else { f64::NAN })
                .collect();
            assert!((found[0] - curve).abs() < 0.01 && (found[1] - degree_days).abs() < 0.01, "{found:?}");
        }
        assert_eq!(at(Parasite::Loma, 9_000).len() + at(Parasite::Loma, 20_000).len(), 4);
        assert!(at(Parasite::Loma, 8_999).is_empty() && at(Parasite::Loma, 20_001).is_empty());
    }

    /// Between and beyond the temperatures of a table there is no answer.
    #[test]
    fn nothing_is_read_between_the_lines() {
        for (parasite, temperature) in [
            (Parasite::GillFluke, 15_000),
            (Parasite::GillFluke, 9_999),
            (Parasite::GillFluke, 36_000),
            (Parasite::WhiteSpot, 22_000),
            (Parasite::SkinFlukeOfSalmon, 10_000),
            (Parasite::GillFlukeOfTrout, 5_000),
        ] {
            assert!(at(parasite, temperature).is_empty(), "{parasite:?} at {temperature}");
        }
        let known = known_at(Parasite::GillFluke);
        assert_eq!(known, [Where::At(10_000), Where::At(20_000), Where::At(35_000)]);
        assert_eq!(known_at(Parasite::WhiteSpot).first(), Some(&Where::Below(7_000)));
        assert!(FACTS.iter().all(|fact| !fact.source.is_empty()));
        assert!(Parasite::ALL.iter().all(|p| FACTS.iter().any(|fact| fact.parasite == *p)));
    }
}
