//! What a brood's home says now, written into the rooms that hold it: one transaction a room, so that nobody's push
//! waits for two hundred of them.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use tarn_domain::catalogue::Body;
use tarn_domain::lineage::{Ancestor, BroodTold, Kin, Telling};
use tarn_domain::rooms::Node;
use tarn_domain::state::Memory;
use tarn_domain::streams::{AccountId, At, NodeId, OpId, StreamId};

use super::ancestry_in;
use crate::lineage::{jobs, store};
use crate::platform::jobs::Job;
use crate::platform::messages::{self, Line};
use crate::platform::{Result, Write, errors::Problem};
use crate::rooms;
use crate::streams::{self, Incoming, Path, following_id};

/// What is to be told.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Word {
    /// Whose word it is.
    pub home: StreamId,
    /// Of which brood.
    pub brood: NodeId,
    /// The op that it comes of.
    pub op: OpId,
    /// What happened.
    pub what: Telling,
    /// Why.
    #[serde(default)]
    pub why: Option<String>,
    /// To which room; none: to all who hold it.
    #[serde(default)]
    pub only: Option<StreamId>,
    /// The brood and its ancestry.
    #[serde(default)]
    pub nodes: Vec<Ancestor>,
    /// How far the home room's records went.
    #[serde(default)]
    pub head: u64,
}

/// Reads what the home says, and queues one job for each room that holds it.
pub async fn tell(w: &mut Write, word: Word) -> Result<()> {
    let (nodes, head) = {
        let (held, _) = streams::room(w.ctx(), word.home).await?;
        (ancestry_in(&held.memory, [word.brood]), held.head)
    };
    if nodes.is_empty() {
        return Ok(());
    }
    let rooms = match word.only {
        Some(room) => vec![room],
        None => store::holders(w.tx(), word.brood).await?,
    };
    for room in rooms.into_iter().filter(|room| *room != word.home) {
        let one = Word { only: Some(room), nodes: nodes.clone(), head, ..word.clone() };
        let payload = serde_json::to_value(&one).map_err(|e| Problem::failed("writing a job", e))?;
        w.enqueue(Job::new(jobs::TELL_ONE, payload));
    }
    Ok(())
}

/// Writes the word into one room, and tells its keepers of what they can see: another name, other parents.
pub async fn tell_one(w: &mut Write, word: Word) -> Result<()> {
    let Some(room) = word.only else { return Ok(()) };
    streams::touch_up(w, room).await?;
    let knows = streams::in_write(w, room, |memory| knows(memory, &word)).unwrap_or(false);
    if knows {
        return Ok(());
    }
    let says = serde_json::to_string(&word.nodes).map_err(|e| Problem::failed("writing a decision", e))?;
    let code = word.nodes.iter().find(|copy| copy.node == word.brood).and_then(Ancestor::code).cloned();
    let body = BroodTold {
        brood: word.brood,
        what: word.what,
        why: word.why.clone(),
        nodes: word.nodes,
        from: word.op,
        head: word.head,
    };
    let decision = Incoming {
        id: following_id(word.op, &format!("brood.told {} {room} {} {says}", word.brood, word.head)),
        at: Some(At::from_seconds(w.now.div_euclid(1000))),
        body: Body::BroodTold(body),
    };
    streams::append(w, room, vec![decision], Path::Decision(AccountId(uuid::Uuid::nil()))).await?;
    let called = code.map_or_else(|| "A brood".to_owned(), |code| format!("The brood {code}"));
    let why = word.why.map_or_else(String::new, |why| format!(" Its breeder writes: {why}"));
    let text = match word.what {
        Telling::Renamed => {
            format!("{called}, of which you hold fish or their young, is called otherwise now.{why}")
        }
        Telling::Corrected => {
            format!("{called}, of which you hold fish or their young, has other parents than was said.{why}")
        }
        Telling::Disputed => format!(
            "{called} is told in your records under an id that another room gave first. Both stay; that room\u{2019}s word \
             counts for others."
        ),
    };
    let fact = format!("lineage:{}:{}", word.op, word.brood);
    let href = Some(format!("/broods/{}", word.brood));
    for keeper in rooms::store::keepers_of(w.tx(), room).await? {
        messages::tell(w, Line { account: keeper.0, fact: &fact, text: &text, href: href.clone() }).await?;
    }
    Ok(())
}

/// Whether a room was told this already, or more.
fn knows(memory: &Memory, word: &Word) -> bool {
    let Some(brood) = memory.told_of(word.brood) else { return false };
    if word.what == Telling::Disputed {
        return brood.changes.iter().any(|change| change.what == Telling::Disputed);
    }
    let newer = brood.told_head.is_some_and(|head| head > word.head);
    newer || brood.told.as_ref() == word.nodes.iter().find(|copy| copy.node == word.brood)
}

/// Of a copy of an ancestry, the broods whose homes say something else by now, by home.
pub async fn differing(w: &Write, room: StreamId, copies: &[Ancestor]) -> Result<Vec<Word>> {
    let broods: Vec<NodeId> = copies
        .iter()
        .filter(|copy| matches!(copy.is, Kin::Brood(_)) && copy.foreign.is_none())
        .map(|copy| copy.node)
        .collect();
    let homes = store::homes(w.tx(), &broods).await?;
    let by_home: BTreeMap<StreamId, Vec<NodeId>> =
        homes.into_iter().fold(BTreeMap::new(), |mut all: BTreeMap<_, Vec<_>>, (node, home)| {
            all.entry(home.stream).or_default().push(node);
            all
        });
    let mut words = Vec::new();
    for (home, nodes) in by_home {
        if home == room {
            continue;
        }
        let (known, head, made) = {
            let (held, _) = streams::room(w.ctx(), home).await?;
            let known = ancestry_in(&held.memory, nodes.iter().copied());
            let made: BTreeMap<NodeId, OpId> =
                nodes.iter().filter_map(|node| Some((*node, last_op(held.memory.brood(*node)?)?))).collect();
            (known, held.head, made)
        };
        for node in nodes {
            let says = known.iter().find(|copy| copy.node == node);
            let held = copies.iter().find(|copy| copy.node == node);
            let (Some(says), Some(held), Some(op)) = (says, held, made.get(&node)) else { continue };
            if says == held {
                continue;
            }
            let mut wanted = BTreeSet::from([node]);
            let nodes: Vec<Ancestor> =
                known.iter().filter(|copy| reach(copy, &mut wanted)).cloned().collect();
            let what = Telling::Corrected;
            words.push(Word { home, brood: node, op: *op, what, why: None, only: Some(room), nodes, head });
        }
    }
    Ok(words)
}

/// Whether a node is among those wanted, if so with all that come before it: nearest first, as an ancestry is.
fn reach(copy: &Ancestor, wanted: &mut BTreeSet<NodeId>) -> bool {
    let is = wanted.contains(&copy.node);
    if is {
        wanted.extend(copy.before());
        if let Kin::Breeders(breeders) = &copy.is
            && let Node::Of(node) = breeders.of
        {
            wanted.insert(node);
        }
    }
    is
}

fn last_op(brood: &tarn_domain::lineage::BroodState) -> Option<OpId> {
    brood.changes.last().map(|change| change.op).or(brood.made)
}
