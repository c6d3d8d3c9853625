//! Bytes as an image.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| scumble_fuzz::picture(bytes));
