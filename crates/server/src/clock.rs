//! The one clock of the service: deadlines aside, nothing else asks what time it is.
//!
//! It leaves to others: when something was recorded (`rungwise-store`).

use jiff::civil::Date;
use jiff::{Timestamp, tz::TimeZone};
use std::fmt;
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

/// Gives the time.
#[derive(Clone)]
pub struct Clock(Arc<dyn Fn() -> u64 + Send + Sync>);

impl Clock {
    /// The machine's own.
    #[must_use]
    pub fn of_system() -> Self {
        Self(Arc::new(|| {
            let since = SystemTime::now()
                .duration_since(UNIX_EPOCH)
                .unwrap_or_default();
            u64::try_from(since.as_millis()).unwrap_or(u64::MAX)
        }))
    }

    /// One that gives these milliseconds since 1970 UTC; for tests.
    #[must_use]
    pub fn of(now_ms: impl Fn() -> u64 + Send + Sync + 'static) -> Self {
        Self(Arc::new(now_ms))
    }

    /// The civil date in UTC.
    #[must_use]
    pub fn today(&self) -> Date {
        date_of_ms((self.0)())
    }
}

impl fmt::Debug for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Clock")
    }
}

/// The civil date in UTC at these milliseconds since 1970.
pub(crate) fn date_of_ms(ms: u64) -> Date {
    let timestamp = i64::try_from(ms)
        .ok()
        .and_then(|ms| Timestamp::from_millisecond(ms).ok());
    TimeZone::UTC
        .to_datetime(timestamp.unwrap_or(Timestamp::MAX))
        .date()
}
