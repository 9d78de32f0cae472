//! What a notice on a club's board may say, and the cautions that stand beside it.

use super::price::Price;
use crate::rooms::{Count, Sex, Spread, Typed};

/// What somebody wants with a notice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoticeKind {
    /// Fish for money.
    ForSale,
    /// Fish for other fish.
    ToSwap,
    /// Fish that are looked for.
    Wanted,
    /// Fish for nothing.
    Free,
}

impl NoticeKind {
    /// All of them, as they stand on a form.
    pub const ALL: [Self; 4] = [Self::ForSale, Self::ToSwap, Self::Wanted, Self::Free];

    /// Its word in the API and the database.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::ForSale => "for_sale",
            Self::ToSwap => "to_swap",
            Self::Wanted => "wanted",
            Self::Free => "free",
        }
    }

    /// The kind of this word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.as_str() == word)
    }

    /// For people: "for sale".
    pub fn words(self) -> &'static str {
        match self {
            Self::ForSale => "for sale",
            Self::ToSwap => "to swap",
            Self::Wanted => "wanted",
            Self::Free => "free",
        }
    }

    /// Whether it offers fish.
    pub fn is_offer(self) -> bool {
        self != Self::Wanted
    }
}

/// What a notice says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoticeSays {
    /// What it is for.
    pub kind: NoticeKind,
    /// The species as kept.
    pub species: String,
    /// Colour or fin form.
    pub form: Option<String>,
    /// How many.
    pub numbers: Spread,
    /// For how much.
    pub price: Option<Price>,
    /// Or for what else.
    pub exchange: Option<String>,
    /// A town or region.
    pub area: String,
    /// Whether they can be picked up.
    pub pickup: bool,
    /// Whether they can be posted.
    pub posting: bool,
    /// Anything else.
    pub remarks: Option<String>,
}

/// A field and what is wrong with it.
pub type Fault = (&'static str, String);

/// The longest name of a species or form.
pub const MOST_NAME: usize = 120;
const MOST_AREA: usize = 80;
const MOST_EXCHANGE: usize = 300;
/// The longest remark, and the longest line of a thread.
pub const MOST_TEXT: usize = 2_000;

/// Whether a text is one line of 1 to `most` signs.
pub fn is_line(text: &str, most: usize) -> bool {
    !text.trim().is_empty() && text.chars().count() <= most && !text.chars().any(char::is_control)
}

/// Whether a text is 1 to `most` signs in any number of lines.
pub fn is_prose(text: &str, most: usize) -> bool {
    let odd = |c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t');
    !text.trim().is_empty() && text.chars().count() <= most && !text.chars().any(odd)
}

/// Numbers without lineage, of what was typed. Fish of whichever sex are unsexed.
pub fn spread_of(typed: &Typed) -> Spread {
    let mut spread = Spread::default();
    for (sex, n, _) in &typed.0 {
        let field = match sex {
            Sex::Male => &mut spread.males,
            Sex::Female => &mut spread.females,
            Sex::Unsexed | Sex::Any => &mut spread.unsexed,
            Sex::Eggs => &mut spread.eggs,
        };
        *field += n.get();
    }
    spread
}

/// What is wrong with numbers of fish that are offered, asked for or given.
pub fn numbers_fault(numbers: &Spread, may_be_none: bool) -> Option<String> {
    let all = [numbers.males, numbers.females, numbers.unsexed, numbers.eggs];
    if all.iter().any(|n| !(0..=i64::from(Count::MOST)).contains(n)) {
        return Some(format!("Each number is from 0 to {}.", Count::MOST));
    }
    (!may_be_none && all.iter().sum::<i64>() == 0).then(|| "Say how many; at least one.".into())
}

impl NoticeSays {
    /// What is wrong, field by field. `names_stock`: whether it names a stock of the author's.
    pub fn faults(&self, names_stock: bool) -> Vec<Fault> {
        let mut faults: Vec<Fault> = Vec::new();
        let mut say = |field, why: &str| faults.push((field, why.to_owned()));
        if !is_line(&self.species, MOST_NAME) {
            say("species", "Name the species as you keep it, in 1 to 120 signs.");
        }
        if self.form.as_deref().is_some_and(|form| !is_line(form, MOST_NAME)) {
            say("form", "A form is named in at most 120 signs on one line.");
        }
        match (self.kind.is_offer(), names_stock) {
            (true, false) => say("stock", "An offer names the stock of yours that the fish are in."),
            (false, true) => say("stock", "What is wanted names no stock."),
            _ => {}
        }
        if let Some(why) = numbers_fault(&self.numbers, !self.kind.is_offer()) {
            say("numbers", &why);
        }
        match (self.kind, &self.price, &self.exchange) {
            (NoticeKind::ForSale, None, _) => say("price", "Say for how much, with the currency."),
            (NoticeKind::ToSwap, _, None) => say("exchange", "Say what you would take in exchange."),
            (NoticeKind::ToSwap | NoticeKind::Free, Some(_), _) => {
                say("price", "Only what is for sale or wanted has a price.");
            }
            (NoticeKind::Free, _, Some(_)) => say("exchange", "What is free asks for nothing in exchange."),
            _ => {}
        }
        if self.exchange.as_deref().is_some_and(|text| !is_line(text, MOST_EXCHANGE)) {
            say("exchange", "At most 300 signs on one line.");
        }
        if let Some(why) = area_fault(&self.area) {
            say("area", why);
        }
        if !self.pickup && !self.posting {
            say("pickup", "Say whether the fish change hands in person, by post, or either.");
        }
        if self.remarks.as_deref().is_some_and(|text| !is_prose(text, MOST_TEXT)) {
            say("remarks", "At most 2,000 signs.");
        }
        faults
    }
}

/// An exact place is shown to nobody: what looks like a street number, a post code or a telephone is no area.
fn area_fault(area: &str) -> Option<&'static str> {
    if !is_line(area, MOST_AREA) {
        return Some("Name a town or region in 1 to 80 signs.");
    }
    let digits = area.chars().filter(char::is_ascii_digit).count();
    (digits > 2 || area.contains('@'))
        .then_some("A town or region, never an address: no street number, post code, telephone or mail.")
}

/// What is said beside a notice. Local law comes first; nothing here is advice on it.
pub fn cautions(kind: NoticeKind, posting: bool) -> Vec<&'static str> {
    let mut all = Vec::new();
    if posting {
        all.push(
            "Posting live animals is forbidden in some countries and by some carriers. Ask yours first, and never post \
             in frost or heat.",
        );
    }
    match kind {
        NoticeKind::ForSale => {
            all.push(
                "Selling animals, above all regularly, may need a licence. No animals are sold to the young.",
            );
        }
        NoticeKind::ToSwap | NoticeKind::Free => {
            all.push("Passing animals on may need papers, as selling does. None go to the young without their guardian.");
        }
        NoticeKind::Wanted => {
            all.push("What comes to you goes into quarantine first, whoever it comes from.");
        }
    }
    all.push(
        "Wild-caught and protected species may need papers or be forbidden where you live, and so may species that \
         could live in the wild there. The law where you are comes first.",
    );
    all.push(
        "Never let fish, plants, eggs or water into nature. Dyed, injected or cut fish are not offered here.",
    );
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn offer() -> NoticeSays {
        NoticeSays {
            kind: NoticeKind::ForSale,
            species: "Poecilia wingei".into(),
            form: None,
            numbers: Spread { males: 2, females: 3, ..Spread::default() },
            price: Price::of(1250, "EUR").ok(),
            exchange: None,
            area: "Upper valley".into(),
            pickup: true,
            posting: false,
            remarks: None,
        }
    }

    fn wrong(says: &NoticeSays, stock: bool) -> Vec<&'static str> {
        says.faults(stock).into_iter().map(|(field, _)| field).collect()
    }

    #[test]
    fn a_notice_says_what_its_kind_needs() {
        assert_eq!(wrong(&offer(), true), [""; 0]);
        assert_eq!(wrong(&offer(), false), ["stock"]);
        let with = |change: fn(&mut NoticeSays)| {
            let mut says = offer();
            change(&mut says);
            wrong(&says, says.kind.is_offer())
        };
        assert_eq!(with(|s| s.price = None), ["price"]);
        assert_eq!(with(|s| s.numbers = Spread::default()), ["numbers"]);
        assert_eq!(with(|s| s.numbers.males = -1), ["numbers"]);
        assert_eq!(with(|s| s.kind = NoticeKind::Free), ["price"]);
        assert_eq!(with(|s| s.kind = NoticeKind::ToSwap), ["exchange"]);
        assert_eq!(with(|s| (s.pickup, s.species) = (false, " ".into())), ["species", "pickup"]);
        assert_eq!(with(|s| s.remarks = Some("a\u{0}".into())), ["remarks"]);
        assert_eq!(
            with(|s| (s.kind, s.price, s.numbers) = (NoticeKind::Wanted, None, Spread::default())),
            [""; 0]
        );
    }

    #[test]
    fn an_area_is_no_address() {
        for (area, fine) in [
            ("Upper valley", true),
            ("Eastern quarter 11", true),
            ("Mill Lane 114", false),
            ("ada@example.org", false),
            ("", false),
        ] {
            assert_eq!(area_fault(area).is_none(), fine, "{area}");
        }
    }

    #[test]
    fn who_posts_is_told_of_posting() {
        let says =
            |posting| cautions(NoticeKind::Free, posting).iter().any(|text| text.contains("Posting live"));
        assert!(says(true) && !says(false));
    }
}
