//! How values are written down in nodes: little-endian, floats by their bits, lists behind their length.
//!
//! A form of our own, not JSON: a value has exactly one form, so its hash is one; floats and names come
//! back bit for bit; and a stroke of a thousand points is a few dozen kilobytes.

use std::collections::BTreeMap;

use crate::Hash;

/// A content that can't have been written by us, though its hash is right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Malformed {
    /// Cut short, too long, or a value that can't be.
    Content,
    /// A version that is not known.
    Version(u8),
}

/// A content being read.
#[derive(Debug)]
pub(crate) struct Input<'a>(&'a [u8]);

impl<'a> Input<'a> {
    pub(crate) fn bytes(&mut self, count: usize) -> Result<&'a [u8], Malformed> {
        let (bytes, rest) = self.0.split_at_checked(count).ok_or(Malformed::Content)?;
        self.0 = rest;
        Ok(bytes)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], Malformed> {
        self.bytes(N)?.try_into().or(Err(Malformed::Content))
    }

    /// A length that was written as `u32`, of things that take at least `each` bytes.
    pub(crate) fn length(&mut self, each: usize) -> Result<usize, Malformed> {
        let length = u32::read(self)? as usize;
        let fits = length.checked_mul(each).is_some_and(|bytes| bytes <= self.0.len());
        if fits { Ok(length) } else { Err(Malformed::Content) }
    }
}

/// A value with a form in files.
pub(crate) trait Written: Sized {
    /// Appends the value.
    fn write(&self, out: &mut Vec<u8>);
    /// Takes the value off the front.
    fn read(input: &mut Input<'_>) -> Result<Self, Malformed>;
}

/// Writes a length as `u32`. Lists in memory are far shorter; the reader would tell if one were not.
pub(crate) fn write_length(length: usize, out: &mut Vec<u8>) {
    u32::try_from(length).unwrap_or(u32::MAX).write(out);
}

/// A node's content: its version, then its value.
pub(crate) fn content_of<T: Written>(version: u8, value: &T) -> Vec<u8> {
    let mut out = vec![version];
    value.write(&mut out);
    out
}

/// Reads what [`content_of`] wrote.
pub(crate) fn read_content<T: Written>(version: u8, content: &[u8]) -> Result<T, Malformed> {
    let mut input = Input(content);
    let found = u8::read(&mut input)?;
    if found != version {
        return Err(Malformed::Version(found));
    }
    let value = T::read(&mut input)?;
    if input.0.is_empty() { Ok(value) } else { Err(Malformed::Content) }
}

macro_rules! numbers {
    ($($number:ty),*) => {$(
        impl Written for $number {
            fn write(&self, out: &mut Vec<u8>) {
                out.extend_from_slice(&self.to_le_bytes());
            }

            fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
                Ok(Self::from_le_bytes(input.array()?))
            }
        }
    )*};
}

numbers!(u8, u16, u32, u64, f32, f64);

impl Written for bool {
    fn write(&self, out: &mut Vec<u8>) {
        u8::from(*self).write(out);
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        match u8::read(input)? {
            0 => Ok(false),
            1 => Ok(true),
            _ => Err(Malformed::Content),
        }
    }
}

impl Written for Hash {
    fn write(&self, out: &mut Vec<u8>) {
        out.extend_from_slice(&self.0);
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        Ok(Self(input.array()?))
    }
}

impl Written for String {
    fn write(&self, out: &mut Vec<u8>) {
        write_length(self.len(), out);
        out.extend_from_slice(self.as_bytes());
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        let length = input.length(1)?;
        let bytes = input.bytes(length)?.to_vec();
        Self::from_utf8(bytes).or(Err(Malformed::Content))
    }
}

impl<T: Written> Written for Option<T> {
    fn write(&self, out: &mut Vec<u8>) {
        self.is_some().write(out);
        if let Some(value) = self {
            value.write(out);
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        bool::read(input)?.then(|| T::read(input)).transpose()
    }
}

impl<T: Written> Written for Vec<T> {
    fn write(&self, out: &mut Vec<u8>) {
        write_length(self.len(), out);
        for value in self {
            value.write(out);
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        let length = input.length(1)?;
        (0..length).map(|_| T::read(input)).collect()
    }
}

impl<T: Written, const N: usize> Written for [T; N] {
    fn write(&self, out: &mut Vec<u8>) {
        for value in self {
            value.write(out);
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        let values = (0..N).map(|_| T::read(input)).collect::<Result<Vec<_>, _>>()?;
        values.try_into().or(Err(Malformed::Content))
    }
}

impl<A: Written, B: Written> Written for (A, B) {
    fn write(&self, out: &mut Vec<u8>) {
        self.0.write(out);
        self.1.write(out);
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        Ok((A::read(input)?, B::read(input)?))
    }
}

/// Keys must rise, so that there is one form only.
impl<K: Written + Ord + Copy, V: Written> Written for BTreeMap<K, V> {
    fn write(&self, out: &mut Vec<u8>) {
        write_length(self.len(), out);
        for (key, value) in self {
            key.write(out);
            value.write(out);
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        let length = input.length(1)?;
        let mut map = Self::new();
        for _ in 0..length {
            let (key, value) = <(K, V)>::read(input)?;
            if map.last_key_value().is_some_and(|(last, _)| *last >= key) {
                return Err(Malformed::Content);
            }
            map.insert(key, value);
        }
        Ok(map)
    }
}

/// A struct written field by field, in the order given.
macro_rules! record {
    ($record:ty { $($field:ident),* $(,)? }) => {
        impl $crate::written::Written for $record {
            fn write(&self, out: &mut Vec<u8>) {
                $($crate::written::Written::write(&self.$field, out);)*
            }

            fn read(
                input: &mut $crate::written::Input<'_>,
            ) -> Result<Self, $crate::written::Malformed> {
                Ok(Self { $($field: $crate::written::Written::read(input)?),* })
            }
        }
    };
}

/// A value that stands for one number or another written value.
macro_rules! wrapped {
    ($($wrapper:ident($inner:ty)),* $(,)?) => {$(
        impl $crate::written::Written for $wrapper {
            fn write(&self, out: &mut Vec<u8>) {
                $crate::written::Written::write(&self.0, out);
            }

            fn read(
                input: &mut $crate::written::Input<'_>,
            ) -> Result<Self, $crate::written::Malformed> {
                Ok($wrapper(<$inner as $crate::written::Written>::read(input)?))
            }
        }
    )*};
}

/// An enum without fields, written as a number of one byte that is never given to another case.
macro_rules! codes {
    ($name:ident { $($case:ident = $code:literal),* $(,)? }) => {
        impl $crate::written::Written for $name {
            fn write(&self, out: &mut Vec<u8>) {
                out.push(match self { $($name::$case => $code),* });
            }

            fn read(
                input: &mut $crate::written::Input<'_>,
            ) -> Result<Self, $crate::written::Malformed> {
                match <u8 as $crate::written::Written>::read(input)? {
                    $($code => Ok($name::$case),)*
                    _ => Err($crate::written::Malformed::Content),
                }
            }
        }
    };
}

pub(crate) use {codes, record, wrapped};
