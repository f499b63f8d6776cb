//! Every list of bands and every setting that can be.

use super::{Roll, date, key, number, position};
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use rungwise_engine::band::{Bind, Binds, Grip, Held, Hold, Setting};
use rungwise_engine::fact::{BandPoint, Equipment, MeasuredBand};
use rungwise_pack::quantity::Milli;

fn measured() -> impl Strategy<Value = MeasuredBand> {
    let point = (any::<i64>(), any::<i64>()).prop_map(|(elongation, force)| BandPoint {
        elongation: Milli(elongation),
        force: Milli(force),
    });
    (
        key(),
        any::<i32>(),
        vec(point, 0..3),
        any::<i64>(),
        any::<bool>(),
    )
        .prop_map(
            |(label, rest_length_mm, points, elongation_max, may_be_doubled)| MeasuredBand {
                label,
                rest_length_mm: rest_length_mm.into(),
                points,
                elongation_max: Milli(elongation_max),
                may_be_doubled,
            },
        )
}

pub(super) fn equipment() -> impl Strategy<Value = Equipment> {
    let room = option::of(any::<i32>().prop_map(i64::from));
    (vec(key(), 0..3), vec(measured(), 0..3), room).prop_map(|(owned, bands, room_mm)| Equipment {
        owned,
        bands,
        room_mm,
    })
}

pub(super) fn roll() -> impl Strategy<Value = Roll> {
    (measured(), date(), key()).prop_map(|(piece, measured_on, measured_by)| Roll {
        piece,
        measured_on,
        measured_by,
    })
}

pub(super) fn binds() -> impl Strategy<Value = Binds> {
    let what = prop::sample::select(vec![
        Bind::NothingOwned,
        Bind::Room,
        Bind::Near,
        Bind::TooShort,
        Bind::Slack,
        Bind::Tension,
        Bind::Elongation,
        Bind::StepTooLarge,
        Bind::TooHeavy,
        Bind::TooLight,
        Bind::Motion,
    ]);
    (what, any::<i64>()).prop_map(|(what, by)| Binds { what, by })
}

pub(super) fn setting() -> impl Strategy<Value = Setting> {
    let grip = || {
        (key(), any::<u8>(), any::<u32>(), any::<u32>()).prop_map(
            |(band, strands, working_length_mm, stance_mm)| Grip {
                band,
                strands,
                working_length_mm,
                stance_mm,
            },
        )
    };
    let forces = (any::<i64>(), any::<i64>(), any::<i64>());
    let held = (
        grip(),
        forces,
        any::<bool>(),
        number(),
        option::of((grip(), any::<i64>())),
    )
        .prop_map(
            |(grip, (torque_mnm, start_mn, end_mn), is_short, by, before)| Held {
                grip,
                torque_mnm,
                start_mn,
                end_mn,
                is_short,
                by,
                before,
            },
        );
    let hold = prop_oneof![
        Just(Hold::Unmeasured),
        binds().prop_map(Hold::None),
        held.prop_map(Hold::Set),
    ];
    let obtained = option::of((any::<i64>().prop_map(Milli), any::<i64>()));
    let with = (option::of(position()), option::of(any::<u32>()));
    (with, any::<i64>(), any::<i64>(), hold, obtained).prop_map(
        |((equipment, height_mm), load, to_mdeg, hold, obtained)| Setting {
            equipment,
            height_mm,
            load: Milli(load),
            to_mdeg,
            hold,
            obtained,
        },
    )
}
