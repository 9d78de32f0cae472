//! What `lineage` refuses, and how it is told.

use tarn_domain::lineage::BadParents;
use tarn_domain::state::Memory;
use tarn_domain::streams::NodeId;

use super::actions::known_as;
use crate::platform::errors::{Problem, kinds};

kinds! {
    GROUP_TAKEN "group-taken" 409 "This id is taken" "A line group's id is made by the client. This one belongs to a group that you are not in; make another.";
    PARENTS_UNCLEAR "parents-unclear" 422 "The parents can't be understood" "A side that is told names at least one parent, with at least one fish of each group. Weights are given to all of a side or to none, and add up to 1000 thousandths.";
    LINEAGE_CYCLE "lineage-cycle" 409 "A fish would be its own ancestor" "With these parents the brood would descend from itself. One of the records on the way is wrong: look at the broods that are named, and correct the one that is. Broods that only other rooms know of are not named.";
}

/// How parents that can't be understood are told.
pub fn parents(bad: BadParents) -> Problem {
    Problem::new(&PARENTS_UNCLEAR).detail(bad.to_string())
}

/// How a circle is told: by what the room knows of, and how many others there are.
pub fn circle(way: &[NodeId], memory: &Memory) -> Problem {
    let on_it = way.get(1..).unwrap_or_default();
    let known: Vec<(NodeId, String)> =
        on_it.iter().filter_map(|node| Some((*node, known_as(memory, *node)?))).collect();
    let names: Vec<&str> = known.iter().map(|(_, name)| name.as_str()).collect();
    let others = match on_it.len() - known.len() {
        0 => String::new(),
        1 => ", and one brood of another room".to_owned(),
        n => format!(", and {n} broods of other rooms"),
    };
    let detail =
        format!("With these parents it would be its own ancestor, by way of {}{others}.", names.join(", "));
    let nodes: Vec<String> = known.iter().map(|(node, _)| node.to_string()).collect();
    Problem::new(&LINEAGE_CYCLE).detail(detail).with("nodes", nodes)
}
