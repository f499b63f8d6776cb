//! Feeds a file of a pack from libFuzzer.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| rungwise_tests::fuzz::pack(data));
