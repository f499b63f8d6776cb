//! Two people are two names and two keys.

use super::{LeadsError, leads};
use rungwise_ledger::note::NoteSigner;

fn key(name: &str, secret: u8) -> String {
    let signer = NoteSigner::new(name, &[secret; 32]).expect("a name");
    signer.verifier().to_string()
}

#[test]
fn leads_are_of_different_people_with_different_keys() {
    let (one, other) = (key("lead-one", 1), key("lead-other", 2));
    let found = leads(&[other.clone(), one.clone()]).expect("two people");
    let names: Vec<&str> = found.iter().map(|key| key.name()).collect();
    assert_eq!(names, ["lead-one", "lead-other"]);
    assert_eq!(leads(std::slice::from_ref(&one)), Err(LeadsError::Count(1)));
    assert_eq!(
        leads(&[one.clone(), key("lead-other", 1)]),
        Err(LeadsError::Twice("lead-other".into())),
        "one key under two names"
    );
    assert_eq!(
        leads(&[one.clone(), key("lead-one", 3)]),
        Err(LeadsError::Twice("lead-one".into())),
        "one name with two keys"
    );
    let broken = other.replacen("lead-other", "lead-another", 1);
    assert_eq!(
        leads(&[one, broken.clone()]),
        Err(LeadsError::Key(broken)),
        "its id is not of this name"
    );
}
