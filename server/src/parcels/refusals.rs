//! What `parcels` refuses, and how the domain's "no" is told.

use tarn_domain::parcels::ParcelRefusal;

use crate::platform::errors::{Problem, kinds};
use crate::quarantine::refusals::QUARANTINE_RUNNING;

kinds! {
    PARCEL_EMPTY "parcel-empty" 409 "Nothing is in the parcel" "A parcel has at least one fish in it.";
    PARCEL_NOT_PACKED "parcel-not-packed" 409 "Nothing was packed" "A parcel is packed before it is handed over.";
    PARCEL_BY_PARTY "parcel-by-party" 403 "Not by one of the two" "A parcel is settled by an officer who neither sent it nor was to get it. Ask another officer.";
    PARCEL_NOT_DUE "parcel-not-due" 409 "Both sides still have time" "Both sides have 14 days to say what arrived. Only then an officer settles what is still open.";
    PARCEL_CLOSED "parcel-closed" 409 "Nothing is open" "All fish of the parcel are accounted for; there is nothing to settle.";
    PARCEL_TO_NOBODY "parcel-to-nobody" 422 "Nobody of this name" "A parcel in quarantine is agreed for one keeper who has a login here, by login name.";
    PARCEL_GONE "parcel-gone" 409 "The parcel has left" "A parcel leaves once. Pack what else goes under another parcel.";
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
