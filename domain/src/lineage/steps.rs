//! The bodies of a spawning's steps. Any of them may be the first that is known; a step that is taken back takes no
//! other with it.

use std::collections::BTreeSet;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::ops::{BroodName, Parents, Window, stocks_of};
use crate::rooms::{Count, Names, Node};
use crate::streams::{Entity, Links, NodeId, SpawningId, StockId, TankId};

macro_rules! steps {
    ($($(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident: $type:ty,)* } |$this:ident| $links:expr;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        pub struct $name { $($(#[$fdoc])* pub $field: $type,)* }

        impl Names for $name {
            fn links(&self) -> Links {
                let $this = self;
                $links
            }
        }
    )*};
}

fn stocks(sides: [&Option<Parents>; 2]) -> impl Iterator<Item = Entity> {
    stocks_of(sides).into_iter().map(Entity::from)
}

impl Together {
    /// The stocks of both sides, each once.
    pub fn stocks(&self) -> BTreeSet<StockId> {
        stocks_of([&self.sires, &self.dams])
    }
}

/// Why a spawning came to nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum WhyFailed {
    /// The eggs or young were eaten.
    Eaten,
    /// The eggs were not fertilised.
    Infertile,
    /// Fungus took them.
    Fungus,
    /// Nobody knows.
    Unknown,
}

impl WhyFailed {
    /// Every reason.
    pub const ALL: [Self; 4] = [Self::Eaten, Self::Infertile, Self::Fungus, Self::Unknown];

    /// In plain words.
    pub fn plain(self) -> &'static str {
        match self {
            Self::Eaten => "eaten",
            Self::Infertile => "not fertilised",
            Self::Fungus => "fungus",
            Self::Unknown => "not known why",
        }
    }
}

/// What a brood is that eggs begin.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NewBrood {
    /// The keeper's code for it.
    pub code: String,
    /// What it is called.
    pub name: BroodName,
    /// The fathers; none: not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sires: Option<Parents>,
    /// The mothers; none: not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dams: Option<Parents>,
}

/// So many eggs of one node that hatched.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hatch {
    /// Of which brood.
    pub node: Node,
    /// How many.
    #[schemars(range(max = 10_000_000))]
    pub n: Count,
}

steps! {
    /// Who was together: fish were put together to spawn (`pair.set_up`), egg layers spawned or their eggs were seen
    /// (`spawn.seen`), a livebearer dropped her young (`drop.seen`).
    Together {
        /// Which spawning; of fish that are put together the one that may come of it.
        spawning: SpawningId,
        /// The males; none: not told.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        sires: Option<Parents>,
        /// The females.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        dams: Option<Parents>,
        /// Where.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
    } |b| Links::default()
        .and_sets([b.spawning.into()])
        .and_refers(b.tank.map(Into::into))
        .and_refers(stocks([&b.sires, &b.dams]));

    /// `eggs.collected`: eggs were picked. They are a stock of their own; a later pick of the same brood is another.
    EggsCollected {
        /// Which spawning; none: nobody follows its steps.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        spawning: Option<SpawningId>,
        /// The brood.
        brood: NodeId,
        /// What it is, if these are its first eggs; none: they join a brood that is there.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        new: Option<NewBrood>,
        /// When they were laid.
        window: Window,
        /// The stock the eggs are.
        stock: StockId,
        /// The keeper's name for it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        name: Option<String>,
        /// The species as kept.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        species: Option<String>,
        /// Colour or fin form.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        form: Option<String>,
        /// How many.
        #[schemars(range(max = 10_000_000))]
        n: Count,
        /// Whether the number is a guess.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        about: bool,
        /// Where they are; none: in no water of a tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
    } |b| {
        let links = match &b.new {
            Some(new) => Links::making([b.brood.into(), b.stock.into()]).and_refers(stocks([&new.sires, &new.dams])),
            None => Links::making([b.stock.into()]).and_on([b.brood.into()]),
        };
        links.and_refers(b.tank.map(Into::into)).and_sets(b.spawning.map(Into::into))
    };

    /// `eggs.checked`: a look at the eggs; what is lost of them is `stock.lost`.
    EggsChecked {
        /// Which spawning.
        spawning: SpawningId,
        /// How many were laid, as far as can be told.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        laid: Option<Count>,
        /// How many have fungus.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        fungused: Option<Count>,
    } |b| Links::default().and_sets([b.spawning.into()]);

    /// `eggs.hatched`: so many eggs of a stock are young now.
    EggsHatched {
        /// Which spawning; none: nobody follows its steps.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        spawning: Option<SpawningId>,
        /// Of which stock.
        stock: StockId,
        /// How many.
        rows: Vec<Hatch>,
    } |b| Links::on([b.stock.into()]).and_sets(b.spawning.map(Into::into));

    /// `young.swam`: the young swim free.
    YoungSwam {
        /// Which spawning.
        spawning: SpawningId,
    } |b| Links::default().and_sets([b.spawning.into()]);

    /// `spawning.failed`: nothing comes of it.
    SpawningFailed {
        /// Which.
        spawning: SpawningId,
        /// Why.
        why: WhyFailed,
    } |b| Links::default().and_sets([b.spawning.into()]);
}
