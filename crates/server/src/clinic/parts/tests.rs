//! A pack's files survive being cut into parts.

use super::parts_of;
use crate::limits::PACK_PART_BYTES;
use rungwise_pack::source::SourceFiles;
use std::collections::BTreeMap;

#[test]
fn parts_joined_are_the_files_again() {
    let long: String = "ü".repeat(PACK_PART_BYTES);
    let files = SourceFiles::new(vec![
        ("a.toml".into(), "x = 1\n".into()),
        ("b.toml".into(), long),
        ("c.toml".into(), String::new()),
        ("diaries/d.toml".into(), "kept".into()),
    ]);
    let parts = parts_of(files.files());
    assert!(parts.len() > 1);
    let mut joined: BTreeMap<String, String> = BTreeMap::new();
    for (at, part) in parts.iter().enumerate() {
        let bytes: usize = part.files.iter().map(|(_, text)| text.len()).sum();
        assert!(bytes <= PACK_PART_BYTES);
        assert_eq!(part.is_last, at + 1 == parts.len());
        for (path, text) in &part.files {
            joined.entry(path.clone()).or_default().push_str(text);
        }
    }
    let again = SourceFiles::new(joined.into_iter().collect());
    assert_eq!(again.files(), files.files());
    assert_eq!(rungwise_pack::digest(&again), rungwise_pack::digest(&files));
}
