//! Files as people write them: what is read, and how every mistake is told.

use fadewright::device::DeviceProfile;
use fadewright::protocol::Protocol;
use fadewright::{plan, source};
use std::path::Path;

#[test]
fn the_embedded_device_and_protocol_are_without_mistakes() {
    DeviceProfile::embedded().unwrap_or_else(|e| panic!("{}", e.explained()));
    Protocol::embedded().unwrap_or_else(|e| panic!("{}", e.explained()));
}

#[test]
fn every_sample_plan_is_without_mistakes() {
    let mut plans = 0;
    for entry in std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-plans")).unwrap() {
        let text = source::read_file(&entry.unwrap().path()).unwrap_or_else(|e| panic!("{e}"));
        plan::load(&text).unwrap_or_else(|e| panic!("{}", e.explained()));
        plans += 1;
    }
    assert!(plans >= 1);
}
