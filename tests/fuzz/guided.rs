//! The same ways in, with inputs that libFuzzer finds by what they reach; DEVELOPERS.md says how to
//! run it. Without `--cfg fuzzing` there is nothing here.

#![cfg_attr(fuzzing, no_main)]

#[cfg(fuzzing)]
mod targets;

#[cfg(fuzzing)]
libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    static TARGET: std::sync::OnceLock<targets::Target> = std::sync::OnceLock::new();
    TARGET.get_or_init(|| {
        let wanted = std::env::var("FAIRWHY_FUZZ").unwrap_or_default();
        let names: Vec<&str> = targets::TARGETS.iter().map(|(name, _)| *name).collect();
        match targets::TARGETS.iter().find(|(name, _)| *name == wanted) {
            Some((_, target)) => *target,
            None => panic!("FAIRWHY_FUZZ is to be one of: {}", names.join(", ")),
        }
    })(bytes);
});

#[cfg(not(fuzzing))]
fn main() {}
