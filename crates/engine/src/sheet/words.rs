//! The words around a sheet and around questions: a fixed list of keys, each with its plain English default.
//!
//! A pack's text files say them in the clinic's own words and languages; a key that a small pack leaves out falls back to
//! the default here. Nothing here names a body part, an exercise or a number of the trade.
//!
//! Leaves to others: which of them are said (`crate::sheet`, `crate::wanted`).

use rungwise_pack::model::{Pack, RowValue};
use rungwise_pack::quantity::{Milli, Variable};

/// Every text key that a pack should have, with what is said where it does not.
pub const TEXT_KEYS: [(&str, &str); 100] = [
    ("sheet.title", "Your exercises"),
    ("sheet.made-for", "For {date}."),
    (
        "sheet.proposed",
        "Your clinician still has to agree to what is new. Until then, what is written here holds.",
    ),
    ("sheet.phase", "What this stage is for: {aim}."),
    ("sheet.changed", "What changed"),
    ("sheet.changed.line", "{change} ({why})"),
    ("sheet.changed.WITHDRAW", "{from}: stop it for now"),
    ("sheet.changed.BACK", "{from}: go back to {exercise}"),
    ("sheet.changed.EASE", "{exercise}: one step easier"),
    ("sheet.changed.KEEP", "{exercise}: as before"),
    ("sheet.changed.CLIMB", "{exercise}: one step harder"),
    ("sheet.changed.FORWARD", "{from}: go on to {exercise}"),
    ("sheet.changed.INTRODUCE", "{exercise}: new"),
    ("sheet.changed.RETURN", "{exercise}: begin again, gently"),
    ("sheet.changed.ends", "{from}: you no longer need it"),
    ("sheet.changed.next", "{from}: go on to {exercise}"),
    (
        "sheet.outcome.REFER",
        "Please have this looked at before you go on.",
    ),
    (
        "sheet.outcome.REGRESS",
        "You go back one stage for a while.",
    ),
    ("sheet.outcome.HOLD", "You stay where you are for now."),
    (
        "sheet.outcome.AWAIT",
        "There is nothing to do yet; some answers are still missing.",
    ),
    ("sheet.outcome.CONTINUE", "You carry on in this stage."),
    ("sheet.outcome.BEGIN", "You begin today."),
    ("sheet.outcome.PROGRESS", "You go on to the next stage."),
    (
        "sheet.outcome.DISCHARGE",
        "Your care here ends. Keep up what is written below.",
    ),
    ("sheet.refer", "{reason} Please go to: {route} ({urgency})."),
    ("sheet.urgency.emergency", "now"),
    ("sheet.urgency.same-day", "today"),
    ("sheet.urgency.urgent", "within days"),
    ("sheet.urgency.routine", "at the next opportunity"),
    ("sheet.why.limit", "it was more than allowed on {date}"),
    (
        "sheet.why.limit-twice",
        "it was more than allowed twice in a row, last on {date}",
    ),
    ("sheet.why.nothing-left", "it cannot be made any easier"),
    ("sheet.why.met", "the last sessions went well"),
    ("sheet.why.caution", "what you reported asks for care"),
    ("sheet.why.not-yet", "it is not time for the next step yet"),
    ("sheet.why.missing", "a report is missing"),
    ("sheet.why.more-sessions", "a few more sessions come first"),
    ("sheet.why.reached", "not every set was done in full"),
    ("sheet.why.needs", "something else has to come first"),
    ("sheet.why.top", "it is as hard as this stage goes"),
    ("sheet.why.turn", "another exercise goes first"),
    ("sheet.why.lay-off", "there was a break of {days} days"),
    ("sheet.why.directive", "your clinician said so"),
    ("sheet.why.corrected", "a report was corrected"),
    ("sheet.why.withdrawn", "it was stopped because of pain"),
    (
        "sheet.why.comfortable",
        "it stays inside the range that is comfortable",
    ),
    (
        "sheet.why.screening",
        "the safety questions are not all answered",
    ),
    ("sheet.why.phase", "you change to another stage"),
    ("sheet.why.discharged", "your care here has ended"),
    (
        "sheet.why.unmapped",
        "the programme has changed and your clinician has to choose",
    ),
    ("sheet.exercises", "Your exercises"),
    ("sheet.maintenance", "To keep what you have regained"),
    ("sheet.none", "No exercises for now."),
    ("sheet.paused", "Your clinician has paused the exercises."),
    ("sheet.exercise", "{name}: {dose}."),
    ("sheet.capped.directive", "your clinician has set a limit"),
    ("sheet.capped.comfortable", "only as far as is comfortable"),
    ("sheet.left-out", "Left out for now"),
    ("sheet.left-out.line", "{exercise}: {why}"),
    ("sheet.allowed", "What may hurt"),
    ("sheet.stop", "When to stop"),
    (
        "sheet.stop.text",
        "Stop an exercise when it hurts more than is allowed above, and leave it for the day. Tell your clinician.",
    ),
    ("sheet.flare-up", "If it flares up"),
    (
        "sheet.flare-up.text",
        "Rest from the exercises for a day, keep moving gently, and report it. The next plan will be easier.",
    ),
    ("sheet.call", "Whom to call"),
    (
        "sheet.call.text",
        "Call your clinic. If you feel very unwell, call the emergency number.",
    ),
    ("sheet.cautions", "Please note"),
    ("sheet.valid-until", "Valid until {date}."),
    ("dose.join", ", "),
    ("dose.sets", "{value} sets"),
    ("dose.sets.one", "1 set"),
    ("dose.reps", "{value} times"),
    ("dose.reps.one", "once"),
    ("dose.hold-time", "hold {value} seconds"),
    ("dose.hold-time.one", "hold 1 second"),
    ("dose.effort", "effort: {value}"),
    ("dose.load", "load: {value}"),
    ("dose.range", "up to {value} degrees"),
    ("dose.range.label", "{value}"),
    ("dose.position", "position: {value}"),
    ("dose.tempo", "tempo: {value}"),
    ("dose.support", "support: {value}"),
    ("dose.rest", "rest {value} seconds between sets"),
    ("dose.rest.one", "rest 1 second between sets"),
    ("dose.times-a-day", "{value} times a day"),
    ("dose.times-a-day.one", "once a day"),
    ("dose.days-a-week", "{value} days a week"),
    ("dose.days-a-week.one", "1 day a week"),
    ("ask.measure", "Please give: {measure}."),
    ("ask.scale", "{measure}, from {min} to {max} {unit}"),
    ("ask.choices", "{measure}: {choices}"),
    ("ask.choices.join", " / "),
    (
        "ask.morning-after",
        "How was it the morning after the session of {date}?",
    ),
    ("ask.session", "Please report your next session."),
    ("ask.assessment", "Please measure: {measure}."),
    ("ask.review", "Please look at this episode."),
    ("ask.clearance", "Please see to the referral and clear it."),
    (
        "ask.sign-off",
        "Please agree to the proposed plan or decline it.",
    ),
    (
        "ask.confirmation",
        "Please look at what the corrected report changes, and confirm or place.",
    ),
    (
        "ask.placement",
        "Please choose a place for an exercise that the new rules do not have.",
    ),
];

/// What besides a pack should have that has exercises with a band.
pub const BAND_TEXT_KEYS: [(&str, &str); 20] = [
    ("dose.load.label", "load: {value}"),
    (
        "sheet.band.stand",
        "Take the band “{band}” and stand {length} cm from where it is fixed.",
    ),
    (
        "sheet.band.stand.doubled",
        "Take the band “{band}” folded double and stand {length} cm from where it is fixed.",
    ),
    (
        "sheet.band.hold",
        "Take the band “{band}” and hold it so that {length} cm of it are between your hand and its other end before you pull.",
    ),
    (
        "sheet.band.hold.doubled",
        "Take the band “{band}” folded double and hold it so that {length} cm of it are between your hand and its other end before you pull.",
    ),
    (
        "sheet.band.further",
        "That is {length} cm further away than last time.",
    ),
    (
        "sheet.band.nearer",
        "That is {length} cm nearer than last time.",
    ),
    (
        "sheet.band.longer",
        "That is {length} cm longer than last time.",
    ),
    (
        "sheet.band.shorter",
        "That is {length} cm shorter than last time.",
    ),
    (
        "sheet.band.other",
        "That is not the band, or not the way of holding it, of last time.",
    ),
    (
        "sheet.band.pull",
        "It pulls with about {start} N at the start and {end} N at the end; the load is {load} N.m.",
    ),
    (
        "sheet.band.pull.same",
        "It pulls with about {start} N at the start and {end} N at the end; the load is {load} N.m, as last time.",
    ),
    (
        "sheet.band.pull.more",
        "It pulls with about {start} N at the start and {end} N at the end; the load is {load} N.m, {percent} % more than last time.",
    ),
    (
        "sheet.band.pull.less",
        "It pulls with about {start} N at the start and {end} N at the end; the load is {load} N.m, {percent} % less than last time.",
    ),
    (
        "sheet.band.unmeasured",
        "The load is kept as it is and is not measured: use the same band in the same way as before.",
    ),
    (
        "sheet.band.unmeasured.eased",
        "The load is not measured: use less pull than before, with a lighter band or nearer to where it is fixed.",
    ),
    (
        "sheet.why.unmeasured",
        "the load of the band is not measured",
    ),
    (
        "sheet.why.no-band",
        "the bands or the room at hand do not give the next load",
    ),
    ("sheet.why.band", "the bands at hand do not give its load"),
    (
        "ask.band",
        "Please measure a band, or see to the standing height or the room, for: {exercise}.",
    ),
];

/// The default of a key in [`TEXT_KEYS`] or [`BAND_TEXT_KEYS`].
fn default_text(key: &str) -> Option<&'static str> {
    TEXT_KEYS
        .iter()
        .chain(&BAND_TEXT_KEYS)
        .find(|(known, _)| *known == key)
        .map(|(_, text)| *text)
}

/// The text under `key`, from the pack or from the defaults, with each `{placeholder}` filled in. A placeholder that is
/// not given stays as it is; a key that neither knows is said as itself.
#[must_use]
pub fn say(pack: &Pack, language: &str, key: &str, given: &[(&str, &str)]) -> String {
    let text = pack
        .text(language, key)
        .or_else(|| default_text(key))
        .unwrap_or(key);
    fill(text, given)
}

/// The pack's own text under `key`, if it has one, with placeholders filled in.
#[must_use]
pub fn say_own(pack: &Pack, language: &str, key: &str, given: &[(&str, &str)]) -> Option<String> {
    pack.text(language, key).map(|text| fill(text, given))
}

/// Fills placeholders in one pass, so that a value that holds braces is never filled in itself.
fn fill(text: &str, given: &[(&str, &str)]) -> String {
    let mut filled = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        filled.push_str(before);
        let found = after.split_once('}').and_then(|(name, after)| {
            let (_, value) = given.iter().find(|(known, _)| *known == name)?;
            Some((value, after))
        });
        match found {
            Some((value, after)) => {
                filled.push_str(value);
                rest = after;
            }
            None => {
                filled.push('{');
                rest = after;
            }
        }
    }
    filled.push_str(rest);
    filled
}

/// A dose in words, in the order given.
#[must_use]
pub fn say_dose(pack: &Pack, language: &str, dose: &[(Variable, RowValue)]) -> String {
    let parts: Vec<String> = dose
        .iter()
        .map(|(variable, value)| say_value(pack, language, *variable, value))
        .collect();
    parts.join(&say(pack, language, "dose.join", &[]))
}

fn say_value(pack: &Pack, language: &str, variable: Variable, value: &RowValue) -> String {
    let key = format!("dose.{}", variable.word().replace(' ', "-"));
    let (special, value) = match value {
        RowValue::Number(number) if *number == Milli::whole(1) => {
            (Some(format!("{key}.one")), number.to_string())
        }
        RowValue::Number(number) => (None, number.to_string()),
        RowValue::Label(label) => (
            Some(format!("{key}.label")),
            say_label(pack, language, label),
        ),
    };
    // A pack's own words come before a default, be it ever so special.
    let known = |special: &String| {
        let is_said = |key: &str| pack.text(language, key).is_some();
        is_said(special) || (!is_said(&key) && default_text(special).is_some())
    };
    let key = special.filter(known).unwrap_or_else(|| key.clone());
    say(pack, language, &key, &[("value", &value)])
}

/// A row's label in the patient's words, under `label.<label>`; else the label itself.
fn say_label(pack: &Pack, language: &str, label: &str) -> String {
    say_own(pack, language, &format!("label.{label}"), &[]).unwrap_or_else(|| label.to_owned())
}
