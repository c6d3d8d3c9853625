//! Values in JSON: a number for a scalar, three numbers or "#rrggbb" for a colour.

use std::collections::BTreeMap;

use layers::{ChannelDescriptor, ChannelId, Value};
use raster::{from_unit, to_unit};
use serde::{Deserialize, Serialize};

/// One value of a channel: 0..1, colours sRGB-encoded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum WireValue {
    /// A scalar.
    Scalar(f32),
    /// Red, green, blue.
    Colour([f32; 3]),
    /// "#rrggbb", eight bits a component.
    Hex(String),
}

/// Values by channel key.
pub(crate) type WireValues = BTreeMap<String, WireValue>;

impl WireValue {
    /// As stored, or what is wrong with it.
    pub(crate) fn to_value(&self) -> Result<Value, String> {
        match self {
            Self::Scalar(value) => Ok(Value::Scalar(stored(*value)?)),
            Self::Colour([r, g, b]) => Ok(Value::Colour([stored(*r)?, stored(*g)?, stored(*b)?])),
            Self::Hex(text) => hex(text).map(Value::Colour).ok_or_else(|| {
                format!("'{text}' is no colour: give \"#rrggbb\" or three numbers from 0 to 1")
            }),
        }
    }

    pub(crate) fn of(value: Value) -> Self {
        match value {
            Value::Scalar(value) => Self::Scalar(to_unit(value)),
            Value::Colour(components) => Self::Colour(components.map(to_unit)),
        }
    }
}

/// 0..1 as stored.
pub(crate) fn stored(value: f32) -> Result<u16, String> {
    if (0.0..=1.0).contains(&value) {
        Ok(from_unit(value))
    } else {
        Err(format!("{value} is out of range: give a number from 0 to 1"))
    }
}

fn hex(text: &str) -> Option<[u16; 3]> {
    let digits = text.strip_prefix('#').filter(|digits| digits.len() == 6 && digits.is_ascii())?;
    let byte = |at: usize| u8::from_str_radix(&digits[at..at + 2], 16).ok();
    Some([byte(0)?, byte(2)?, byte(4)?].map(|byte| u16::from(byte) * 257))
}

/// The channel with this key.
pub(crate) fn channel(channels: &[ChannelDescriptor], key: &str) -> Result<ChannelId, String> {
    let found = channels.iter().find(|channel| channel.key == key);
    found.map(|channel| channel.id).ok_or_else(|| {
        let known: Vec<&str> = channels.iter().map(|channel| channel.key.as_str()).collect();
        format!("there is no channel '{key}': give one of {}", known.join(", "))
    })
}

/// The key of a channel.
pub(crate) fn channel_key(channels: &[ChannelDescriptor], id: ChannelId) -> String {
    channels.iter().find(|channel| channel.id == id).map_or_else(String::new, |c| c.key.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stored_value_is_the_same_after_writing_and_reading() {
        for stored in 0..=u16::MAX {
            let text = serde_json::to_string(&WireValue::of(Value::Scalar(stored))).unwrap();
            let back: WireValue = serde_json::from_str(&text).unwrap();
            assert_eq!(back.to_value().unwrap(), Value::Scalar(stored));
        }
    }

    #[test]
    fn hex_colours_are_bytes_spread_over_sixteen_bits() {
        let value = WireValue::Hex("#ff8000".to_owned()).to_value().unwrap();
        assert_eq!(value, Value::Colour([65_535, 32_896, 0]));
        assert!(WireValue::Hex("#ff80".to_owned()).to_value().is_err());
        assert!(WireValue::Hex("#ééé".to_owned()).to_value().is_err());
    }
}
