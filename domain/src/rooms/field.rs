//! Descriptive fields: per field the latest clock wins, ties by device and id.

use crate::streams::{Order, Patch};

/// One field and the edit that set it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field<T> {
    /// The value; none if never set, or cleared.
    pub value: Option<T>,
    set_by: Option<Order>,
}

impl<T> Default for Field<T> {
    fn default() -> Self {
        Self { value: None, set_by: None }
    }
}

impl<T: Clone> Field<T> {
    /// Applies an edit if it is later than the one that counts now.
    pub fn edit(&mut self, by: Order, patch: &Patch<T>) {
        let value = match patch {
            Patch::Keep => return,
            Patch::Clear => None,
            Patch::Set(value) => Some(value.clone()),
        };
        let edit = |o: Order| (o.clock, o.device, o.id);
        if self.set_by.is_none_or(|last| edit(last) < edit(by)) {
            self.value = value;
            self.set_by = Some(by);
        }
    }
}
