//! What `parcels` refuses, and how the domain's "no" is told.

use tarn_domain::parcels::{Fault, ParcelRefusal, SwapRefusal};

use crate::platform::errors::{INVALID, Problem, kinds};
use crate::quarantine::refusals::QUARANTINE_RUNNING;

kinds! {
    PARCEL_EMPTY "parcel-empty" 409 "Nothing is in the parcel" "A parcel has at least one fish in it.";
    PARCEL_NOT_PACKED "parcel-not-packed" 409 "Nothing was packed" "A parcel is packed before it is handed over.";
    PARCEL_BY_PARTY "parcel-by-party" 403 "Not by one of the two" "A parcel is settled by an officer who neither sent it nor was to get it. Ask another officer.";
    PARCEL_NOT_DUE "parcel-not-due" 409 "Both sides still have time" "Both sides have 14 days to say what arrived. Only then an officer settles what is still open.";
    PARCEL_CLOSED "parcel-closed" 409 "Nothing is open" "All fish of the parcel are accounted for; there is nothing to settle.";
    PARCEL_TO_NOBODY "parcel-to-nobody" 422 "Nobody of this name" "A parcel in quarantine is agreed for one keeper who has a login here, by login name.";
    PARCELS_ON_THEIR_WAY "parcels-on-their-way" 409 "Fish of this room are still on their way"
        "A room is given up when all that it sent has arrived, came back or was settled. Wait for the other side, or ask an officer to settle it after 14 days.";
    PARCEL_GONE "parcel-gone" 409 "The parcel has left" "A parcel leaves once. Pack what else goes under another parcel.";
    NOTICE_OVER "notice-over" 409 "The notice is over"
        "The notice has ended, is done or was taken down, so it can't be changed or ended again. Its author can put it up again, unless an officer of the club took it down.";
    NOTICE_STANDS "notice-stands" 409 "The notice stands"
        "Only a notice that has ended, is done or was taken down by its author is put up again.";
    OWN_NOTICE "own-notice" 409 "It is your own notice"
        "Others reply to a notice. Its author answers in their threads, and changes or ends the notice itself.";
    SWAP_OVER "swap-over" 409 "The swap is past that"
        "A swap is proposed, then agreed, declined, withdrawn or expired; what is agreed is done when all of it has arrived. This one is past what was asked. A new one can be proposed.";
    SWAP_OTHER_SIDE "swap-other-side" 403 "The other side does this"
        "Whom a swap was proposed to agrees or declines; who proposed it withdraws it.";
    SWAP_LEFT "swap-left" 409 "A parcel has left already"
        "What is agreed can be withdrawn until the first parcel has left. After that the rooms record what arrived or came back.";
    SWAP_NOT_NOW "swap-not-now" 409 "The other's fish may not leave now"
        "Something that the other side would give may not leave its room now. Ask them in the thread, wait, or propose otherwise.";
}

/// How the domain's "no" is told.
pub fn told(no: &ParcelRefusal) -> Problem {
    let kind = match no {
        ParcelRefusal::Empty => &PARCEL_EMPTY,
        ParcelRefusal::Quarantine { .. } => &QUARANTINE_RUNNING,
        ParcelRefusal::NotPacked => &PARCEL_NOT_PACKED,
        ParcelRefusal::Gone => &PARCEL_GONE,
    };
    let problem = Problem::new(kind).detail(no.to_string());
    match no {
        ParcelRefusal::Quarantine { stock, held } => {
            problem.with("stock", stock.to_string()).with("until", held.until().map(|at| at.to_string()))
        }
        _ => problem,
    }
}

/// Values that can't be taken, field by field.
pub fn invalid(faults: Vec<Fault>) -> Problem {
    let detail = match &faults[..] {
        [(_, one)] => one.clone(),
        _ => "Several answers are missing or can't be taken.".into(),
    };
    faults.into_iter().fold(Problem::new(&INVALID).detail(detail), |problem, (field, why)| {
        problem.at(&format!("/{field}"), why)
    })
}

/// Why a swap does not go that way.
pub fn swap_told(no: SwapRefusal) -> Problem {
    let kind = match no {
        SwapRefusal::OtherSide(_) => &SWAP_OTHER_SIDE,
        SwapRefusal::Over(_) => &SWAP_OVER,
        SwapRefusal::Left => &SWAP_LEFT,
    };
    Problem::new(kind).detail(no.to_string())
}
