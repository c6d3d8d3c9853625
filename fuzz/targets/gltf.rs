//! Bytes as a file of this kind.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| scumble_fuzz::gltf(bytes));
