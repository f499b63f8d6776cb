//! Proves that a difference is told with the sentences that decided, in the pack's words.

use super::*;
use crate::diary::read;
use crate::play;
use crate::read::tests::pack;

#[test]
fn a_difference_is_told_with_the_sentences_that_decided() {
    let pack = pack();
    let text = "diary = \"x\"\nabout = \"Invented: for a test.\"\nopened = \"2026-01-05\"\n\
        [usual]\nsession = { before = 0 }\nexercise = { pain = 0 }\nmorning_after = { ache = 0 }\n\
        [[day]]\ndate = \"2026-01-05\"\nscreening = { fever = \"no\" }\nassessment = { reach = 80 }\nask = true\n\
        [[day]]\ndate = \"2026-01-06\"\nsession = [{ exercises = { hold-still = { readings = { pain = 4 } } } }]\n\
        expect = { outcome = \"REFER\", moves = { lift = \"CLIMB\" }, because = [\"fever\"] }\n";
    let played = play(&pack, &read(&pack, "x.toml", text).unwrap());
    let told = tell(&pack, &played, &played.asked[1]);
    let wanted = include_str!("difference.txt");
    assert_eq!(told.text(2), wanted, "{}", told.text(2));
}
