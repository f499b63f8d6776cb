//! Thousandths with a fixed number of decimals, rounded toward caution, so that columns line up.

use rungwise_engine::prescription::change_permille;

/// So many decimals (0 to 3), rounded up: how a load is shown.
pub(super) fn up(thousandths: i64, places: u32) -> String {
    let unit = 10_i64.pow(3_u32.saturating_sub(places));
    let over = i64::from(thousandths.rem_euclid(unit) != 0);
    fixed(thousandths.div_euclid(unit) + over, places)
}

/// So many decimals (0 to 3), rounded down: how a tension that must be there is shown.
pub(super) fn down(thousandths: i64, places: u32) -> String {
    let unit = 10_i64.pow(3_u32.saturating_sub(places));
    fixed(thousandths.div_euclid(unit), places)
}

/// So many decimals (0 to 3), rounded away from zero and with a sign: how an error is shown.
pub(super) fn away(thousandths: i64, places: u32) -> String {
    let sign = match thousandths.signum() {
        -1 => "-",
        0 => "",
        _ => "+",
    };
    format!("{sign}{}", up(thousandths.saturating_abs(), places))
}

/// The change from one load to another, in percent with one decimal and a sign.
pub(super) fn change(from_mnm: i64, to_mnm: i64) -> String {
    let permille = change_permille(from_mnm, to_mnm);
    let sign = if permille < 0 { '-' } else { '+' };
    let size = permille.unsigned_abs();
    format!("{sign}{}.{} %", size / 10, size % 10)
}

fn fixed(units: i64, places: u32) -> String {
    let sign = if units < 0 { "-" } else { "" };
    let one = 10_u64.pow(places);
    let size = units.unsigned_abs();
    if places == 0 {
        return format!("{sign}{size}");
    }
    let width = usize::try_from(places).unwrap_or_default();
    format!("{sign}{}.{:0width$}", size / one, size % one)
}

#[cfg(test)]
mod tests;
