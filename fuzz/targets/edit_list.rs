//! Bytes as an edit list.
#![no_main]

libfuzzer_sys::fuzz_target!(|text: &str| scumble_fuzz::edit_list(text));
