//! Sealing against the published check value, and what must not open.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a failing set-up should stop the test"
)]

use super::*;
use crate::testing::hex;
use alloc::format;

fn key(byte: u8) -> SecretKey {
    SecretKey::take(&mut [byte; 32])
}

/// Source: draft-irtf-cfrg-xchacha-03, appendix A.3.1.
#[test]
fn seals_as_the_draft_says() {
    let mut secret: [u8; 32] = core::array::from_fn(|n| 0x80 + n as u8);
    let nonce: Nonce = core::array::from_fn(|n| 0x40 + n as u8);
    let text = b"Ladies and Gentlemen of the class of '99: If I could offer you only one tip for the future, \
                 sunscreen would be it.";
    let context = hex("50515253c0c1c2c3c4c5c6c7");
    let wanted = hex(concat!(
        "bd6d179d3e83d43b9576579493c0e939572a1700252bfaccbed2902c21396cbb",
        "731c7f1b0b4aa6440bf3a82f4eda7e39ae64c6708c54c216cb96b72e1213b452",
        "2f8c9ba40db5d945b11b69b982c1bb9e3f3fac2bc369488f76b2383565d3fff9",
        "21f9664c97637da9768812f615c68b13b52e",
        "c0875924c1c7987947deafd8780acf49"
    ));
    let key = SecretKey::take(&mut secret);
    assert_eq!(secret, [0; 32], "the bytes that were taken are wiped");
    let sealed = seal(&key, &nonce, &context, text).unwrap();
    assert_eq!(sealed[..NONCE_BYTES], nonce);
    assert_eq!(sealed[NONCE_BYTES..], wanted);
    assert_eq!(unseal(&key, &context, &sealed).unwrap(), text);
}

#[test]
fn opens_for_nothing_else() {
    let sealed = seal(&key(1), &[2; 24], b"here", b"content").unwrap();
    assert_eq!(unseal(&key(1), b"here", &sealed).unwrap(), b"content");
    assert_eq!(unseal(&key(2), b"here", &sealed), Err(UnsealError));
    assert_eq!(unseal(&key(1), b"there", &sealed), Err(UnsealError));
    for n in 0..sealed.len() {
        let mut flipped = sealed.clone();
        flipped[n] ^= 0x10;
        assert_eq!(
            unseal(&key(1), b"here", &flipped),
            Err(UnsealError),
            "byte {n}"
        );
        assert_eq!(
            unseal(&key(1), b"here", &sealed[..n]),
            Err(UnsealError),
            "cut to {n}"
        );
    }
}

#[test]
fn a_wrapped_key_opens_in_its_slot_only_and_is_not_shown() {
    let wrapped = wrap_key(&key(7), &[3; 24], b"slot 1", &key(9)).unwrap();
    assert_eq!(
        unwrap_key(&key(7), b"slot 1", &wrapped).unwrap().expose(),
        &[9; 32]
    );
    assert!(unwrap_key(&key(7), b"slot 2", &wrapped).is_err());
    assert!(unwrap_key(&key(8), b"slot 1", &wrapped).is_err());
    assert_eq!(format!("{:?}", key(9)), "SecretKey(..)");
}
