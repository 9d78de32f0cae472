//! What `parcels` refuses, and how the domain's "no" is told.

use tarn_domain::parcels::ParcelRefusal;

use crate::platform::errors::{Problem, kinds};
use crate::quarantine::refusals::QUARANTINE_RUNNING;

kinds! {
    PARCEL_EMPTY "parcel-empty" 409 "Nothing is in the parcel" "A parcel has at least one fish in it.";
    PARCEL_NOT_PACKED "parcel-not-packed" 409 "Nothing was packed" "A parcel is packed before it is handed over.";
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
