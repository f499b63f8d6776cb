//! Numbers of a simulation as people read them, rounded to the nearest.
//!
//! Leaves to others: what is told with them (`super::tables`).

/// A share in per cent, to a tenth.
pub(super) fn share(count: u64, of: u64) -> String {
    let permille = u128::from(count) * 1000;
    let of = u128::from(of);
    let tenths_pct = (permille + of / 2).checked_div(of).unwrap_or(0);
    format!("{}.{} %", tenths_pct / 10, tenths_pct % 10)
}

/// A quotient, to a hundredth.
pub(super) fn per(count: u64, of: u64) -> String {
    let of = u128::from(of);
    let hundredths = (u128::from(count) * 100 + of / 2)
        .checked_div(of)
        .unwrap_or(0);
    format!("{}.{:02}", hundredths / 100, hundredths % 100)
}

/// A signed number of parts of a whole, to a tenth.
pub(super) fn tenths(parts: i64, whole: i64) -> String {
    signed(parts, whole, 10, 1)
}

/// A signed number of parts of a whole, to a hundredth.
pub(super) fn hundredths(parts: i64, whole: i64) -> String {
    signed(parts, whole, 100, 2)
}

fn signed(parts: i64, whole: i64, scale: i64, digits: usize) -> String {
    let size = parts.saturating_abs().saturating_mul(scale);
    let size = size.saturating_add(whole / 2) / whole;
    let sign = if parts < 0 && size > 0 { "-" } else { "" };
    format!("{sign}{}.{:0digits$}", size / scale, size % scale)
}

/// A count with its thousands apart.
pub(super) fn grouped(count: u64) -> String {
    let digits = count.to_string();
    let mut told = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            told.push(',');
        }
        told.push(digit);
    }
    told
}
