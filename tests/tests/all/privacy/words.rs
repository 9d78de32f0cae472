//! Words that stand in one place of the scene only, and who may read each, as the design has it. Wherever such a word is
//! read by somebody else, whatever the address, it has leaked.

use super::people::{ALL, Who};
use Who::{Asked, Breeder, CoKeeper, Holder, IdleSteward, InLine, Member, Partner, Secretary, Steward};

/// A word and its readers.
pub struct Word {
    /// What it tells.
    pub of: &'static str,
    /// As it is written.
    pub word: &'static str,
    /// Who may read it.
    pub readers: &'static [Who],
    /// Whether it stands on the stock list too, which is read by those to whom it is published.
    pub on_list: bool,
}

/// Exactly where the founders were caught: for whoever keeps their room.
pub const LOCALITY: &str = "Quillwater";
/// Who determined the brood: no names travel with an ancestry.
pub const DETERMINED_BY: &str = "Marrowdet";
pub const FOUNDERS_NOTE: &str = "Foundernote";
pub const BROOD_NOTE: &str = "Briarnote";
pub const HELD_NOTE: &str = "Heldnote";
pub const FOOD: &str = "Foodmoth";
pub const ROOM: &str = "Roomyarrow";
pub const TANK: &str = "Tankalder";
pub const STAND: &str = "Standelm";
pub const SYSTEM: &str = "Sysbirch";
pub const STOCK: &str = "Stockhazel";
pub const HELD_TANK: &str = "Heldtank";
pub const HELD_STOCK: &str = "Heldstock";
pub const SHOP: &str = "Shopthorn";
pub const SIGN: &str = "Signwort";
pub const LOOK: &str = "Lookfern";
pub const TREATED: &str = "Treatsalt";
/// As they are typed; no time has such a second.
pub const WATER: &str = "61.73";
pub const HELD_WATER: &str = "72.91";
pub const AGREED: &str = "Agreedale";
pub const LINE: &str = "Lineveil";
pub const COLLECTION: &str = "COLLROOK";
pub const TRADE: &str = "Tradewort";
pub const SENT_CODE: &str = "SENTKITE";
pub const PARENT_CODE: &str = "PARENTKITE";
pub const OTHER_CODE: &str = "OTHERKITE";
pub const OTHER_LINE: &str = "Lineother";
pub const WHY: &str = "Whyrowan";
pub const REMARK: &str = "Remarkivy";
pub const AREA: &str = "Areadale";
pub const REPLY: &str = "Replyoak";
pub const SWAP: &str = "Swapash";

const KEEPERS: &[Who] = &[Breeder, CoKeeper];
/// During a quarantine a steward reads its stocks, water, signs and observations.
const KEEPERS_AND_STEWARD: &[Who] = &[Breeder, CoKeeper, Steward];
const KEEPERS_AND_HOLDER: &[Who] = &[Breeder, CoKeeper, Holder];
/// What was published to the club, the board included.
const CLUB: &[Who] = &[Breeder, CoKeeper, Partner, Member, IdleSteward, Steward, Secretary];

/// Every word with its readers, beside the names of people.
pub const WORDS: &[Word] = &[
    Word { of: "locality", word: LOCALITY, readers: KEEPERS, on_list: false },
    Word { of: "determined by", word: DETERMINED_BY, readers: KEEPERS, on_list: false },
    Word { of: "note on founders", word: FOUNDERS_NOTE, readers: KEEPERS, on_list: false },
    Word { of: "note on the brood", word: BROOD_NOTE, readers: KEEPERS, on_list: false },
    Word { of: "note on held fish", word: HELD_NOTE, readers: KEEPERS, on_list: false },
    Word { of: "food", word: FOOD, readers: KEEPERS, on_list: false },
    Word { of: "tank", word: TANK, readers: KEEPERS, on_list: false },
    Word { of: "stand", word: STAND, readers: KEEPERS, on_list: false },
    Word { of: "system", word: SYSTEM, readers: KEEPERS, on_list: false },
    Word { of: "stock", word: STOCK, readers: KEEPERS, on_list: false },
    Word { of: "room", word: ROOM, readers: KEEPERS_AND_STEWARD, on_list: false },
    Word { of: "held tank", word: HELD_TANK, readers: KEEPERS_AND_STEWARD, on_list: false },
    Word { of: "held stock", word: HELD_STOCK, readers: KEEPERS_AND_STEWARD, on_list: false },
    // a named source is for stewards, so that two cases out of one meet
    Word { of: "source", word: SHOP, readers: KEEPERS_AND_STEWARD, on_list: false },
    Word { of: "sign", word: SIGN, readers: KEEPERS_AND_STEWARD, on_list: false },
    Word { of: "look", word: LOOK, readers: KEEPERS_AND_STEWARD, on_list: false },
    Word { of: "treatment", word: TREATED, readers: KEEPERS_AND_STEWARD, on_list: false },
    Word { of: "water", word: WATER, readers: KEEPERS, on_list: false },
    Word { of: "held water", word: HELD_WATER, readers: KEEPERS_AND_STEWARD, on_list: false },
    Word { of: "why it was agreed", word: AGREED, readers: KEEPERS_AND_STEWARD, on_list: false },
    // its name travels with the fish
    Word { of: "collection code", word: COLLECTION, readers: KEEPERS_AND_HOLDER, on_list: false },
    Word { of: "why renamed", word: WHY, readers: KEEPERS_AND_HOLDER, on_list: false },
    // who keeps a line together sees its broods, and only its
    Word { of: "line", word: LINE, readers: &[Breeder, CoKeeper, Holder, InLine, Asked], on_list: false },
    Word { of: "other line", word: OTHER_LINE, readers: KEEPERS, on_list: false },
    // these stand on the stock list too
    Word { of: "trade name", word: TRADE, readers: KEEPERS_AND_HOLDER, on_list: true },
    Word {
        of: "sent brood's code",
        word: SENT_CODE,
        readers: &[Breeder, CoKeeper, Holder, InLine],
        on_list: true,
    },
    Word { of: "parent's code", word: PARENT_CODE, readers: KEEPERS_AND_HOLDER, on_list: true },
    Word { of: "other brood's code", word: OTHER_CODE, readers: KEEPERS, on_list: true },
    Word { of: "notice's remark", word: REMARK, readers: CLUB, on_list: false },
    Word { of: "area", word: AREA, readers: CLUB, on_list: false },
    Word { of: "reply", word: REPLY, readers: &[Breeder, Partner], on_list: false },
    Word { of: "swap", word: SWAP, readers: &[Breeder, Partner], on_list: false },
];

/// Who may read somebody's login name: they themselves, and the other side of a parcel or an agreed swap. A parcel's
/// giver is whoever keeps its room, since a bag goes back there.
pub fn readers_of_login(whose: Who) -> &'static [Who] {
    match whose {
        Breeder => &[Breeder, CoKeeper, Holder, Partner],
        CoKeeper => &[Breeder, CoKeeper, Holder],
        Holder => &[Breeder, CoKeeper, Holder],
        Partner => &[Breeder, CoKeeper, Partner],
        other => {
            let at = ALL.iter().position(|who| *who == other).unwrap_or_default();
            ALL.get(at..=at).unwrap_or_default()
        }
    }
}
