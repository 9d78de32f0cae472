//! The forms of a stock's page: what was lost, what was counted, a note. What was typed stays.

use tarn_domain::rooms::choose::nodes;
use tarn_domain::rooms::words::Cause;
use tarn_domain::rooms::{Node, StockState};
use tarn_domain::streams::OpId;

use super::names::Names;
use crate::platform::errors::Problem;
use crate::platform::html::Field;
use crate::platform::parts::Choice;
use crate::rooms::actions::entry::Typed;

/// The three forms.
pub struct WriteForms {
    /// Where they post to.
    pub action: String,
    /// The form that came back: `lost`, `counted`, `note`, or none.
    pub open: String,
    /// The ids of the entries to be, one a form.
    pub ids: [String; 3],
    /// How many were lost.
    pub lost_numbers: Field,
    /// Of which brood, where several are in the stock.
    pub lost_node: Option<Choice>,
    /// To what.
    pub lost_cause: Choice,
    /// In the keeper's words.
    pub lost_reason: Field,
    /// When.
    pub lost_when: Field,
    /// How many were counted.
    pub counted_numbers: Field,
    /// Of which brood, where several are in the stock.
    pub counted_node: Option<Choice>,
    /// Whether there are no others.
    pub counted_all: Choice,
    /// When.
    pub counted_when: Field,
    /// The words.
    pub note_text: Field,
    /// When.
    pub note_when: Field,
}

fn optional(field: Field) -> Field {
    Field { required: false, ..field }
}

fn fault(problem: Option<&Problem>, name: &str) -> Option<String> {
    let at = format!("/{name}");
    problem?.faults().into_iter().find(|(pointer, _)| *pointer == at).map(|(_, why)| why.to_owned())
}

impl WriteForms {
    /// Empty, or as they came back.
    pub fn new(
        action: String,
        names: Names<'_>,
        stock: &StockState,
        typed: &Typed,
        problem: Option<&Problem>,
        mut new: impl FnMut() -> OpId,
    ) -> Self {
        let when = |name, value: &str| {
            let hint = "As the clock of the room shows it; empty: now.";
            optional(Field::new(name, "When").hint(hint)).typed(value, problem)
        };
        let node = |name, value: &str, required| {
            let all = nodes(&stock.numbers);
            let options = all.into_iter().map(|node: Node| (node.to_string(), names.node(node).text()));
            let choice = Choice::of(name, "Of which", options).typed(value, fault(problem, name));
            let choice = Choice { required, ..choice };
            (choice.options.len() > 1).then_some(choice)
        };
        let how_many = "Males.females.unsexed as in 2.3.10, or 2 m 3 f, or 12.";
        let causes = Cause::ALL.iter().map(|cause| (cause.word().to_owned(), cause.plain().to_owned()));
        let all = [("all", "There are no others"), ("some", "There may be others")]
            .map(|(v, w)| (v.into(), w.into()));
        Self {
            action,
            open: if problem.is_some() { typed.what.clone() } else { String::new() },
            ids: std::array::from_fn(|_| new().to_string()),
            lost_numbers: Field::new("lost_numbers", "How many")
                .hint(how_many)
                .typed(&typed.lost_numbers, problem),
            lost_node: node("lost_node", &typed.lost_node, false),
            lost_cause: Choice::of("lost_cause", "Lost to", causes)
                .typed(&typed.lost_cause, fault(problem, "lost_cause")),
            lost_reason: optional(Field::new("lost_reason", "In your words"))
                .typed(&typed.lost_reason, problem),
            lost_when: when("lost_when", &typed.lost_when),
            counted_numbers: Field::new("counted_numbers", "How many")
                .hint(how_many)
                .typed(&typed.counted_numbers, problem),
            counted_node: node("counted_node", &typed.counted_node, true),
            counted_all: Choice::of("counted_all", "Are these all of them?", all)
                .typed(&typed.counted_all, fault(problem, "counted_all")),
            counted_when: when("counted_when", &typed.counted_when),
            note_text: Field::new("note_text", "Note").typed(&typed.note_text, problem),
            note_when: when("note_when", &typed.note_when),
        }
    }
}
