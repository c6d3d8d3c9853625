//! Looks whether all numbers of a JSON text are such as an `f32` holds: a larger one would become infinite without a
//! word, and could not be written down again.

use std::fmt;

use serde::Deserialize;
use serde::de::{Deserializer, Error, IgnoredAny, MapAccess, SeqAccess, Visitor};

/// See the module. Read from a text, it fails at the first number that is too large.
pub(super) struct InRange;

impl<'de> Deserialize<'de> for InRange {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(Numbers)
    }
}

struct Numbers;

impl<'de> Visitor<'de> for Numbers {
    type Value = InRange;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a value")
    }

    fn visit_bool<E>(self, _value: bool) -> Result<InRange, E> {
        Ok(InRange)
    }

    fn visit_i64<E>(self, _value: i64) -> Result<InRange, E> {
        Ok(InRange)
    }

    fn visit_u64<E>(self, _value: u64) -> Result<InRange, E> {
        Ok(InRange)
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<InRange, E> {
        if value.abs() <= f64::from(f32::MAX) {
            return Ok(InRange);
        }
        Err(E::custom(format_args!(
            "the number {value:e} is too large: the most is {:e}",
            f32::MAX
        )))
    }

    fn visit_str<E>(self, _value: &str) -> Result<InRange, E> {
        Ok(InRange)
    }

    fn visit_unit<E>(self) -> Result<InRange, E> {
        Ok(InRange)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<InRange, A::Error> {
        while items.next_element::<InRange>()?.is_some() {}
        Ok(InRange)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<InRange, A::Error> {
        while entries.next_entry::<IgnoredAny, InRange>()?.is_some() {}
        Ok(InRange)
    }
}
