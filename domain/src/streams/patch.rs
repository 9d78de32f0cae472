//! A field of an edit: left alone, cleared or set. In JSON: absent, null or a value.

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::borrow::Cow;

/// What an edit does to one field.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Patch<T> {
    /// Not spoken of.
    #[default]
    Keep,
    /// Emptied.
    Clear,
    /// Given a value.
    Set(T),
}

impl<T> Patch<T> {
    /// Whether the field is left alone (then it isn't written).
    pub fn is_keep(&self) -> bool {
        matches!(self, Self::Keep)
    }

    /// Set, or left alone.
    pub fn of(value: Option<T>) -> Self {
        value.map_or(Self::Keep, Self::Set)
    }
}

impl<T: Serialize> Serialize for Patch<T> {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Set(value) => s.serialize_some(value),
            _ => s.serialize_none(),
        }
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Patch<T> {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        Ok(Option::deserialize(d)?.map_or(Self::Clear, Self::Set))
    }
}

impl<T: JsonSchema> JsonSchema for Patch<T> {
    fn schema_name() -> Cow<'static, str> {
        Option::<T>::schema_name()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        Option::<T>::json_schema(generator)
    }
}
