//! What was a trip, in one row?

use jiff::civil::Date;
use jiff::tz::TimeZone;
use waterseam_units::time::day_in;

crate::table::table! {
    "trips", "trip";
    trip_id: Text, "", "Trip.", ANY;
    boat: Text, "", "Name of the boat.", ANY;
    time_start: Time, "", "First second of the track.", ANY;
    time_end: Time, "", "Last second of the track.", ANY;
    distance_m: Float, "m", "Distance run over ground.", NOT_NEGATIVE;
    trolling_s: Float, "s", "Time spent pulling lines.", NOT_NEGATIVE;
    farthest_from_start_m: Float, "m", "Greatest distance from where the trip started.", NOT_NEGATIVE;
    bites: Int, "", "Bites noted.", NOT_NEGATIVE;
    rod_hours: Float, "h", "Hours of one rod with its line in the water, all rods together.", NOT_NEGATIVE;
    surface_temp_min_c: Maybe<Float>, "°C", "Coldest surface water, good values only.", WATER_TEMP;
    surface_temp_max_c: Maybe<Float>, "°C", "Warmest surface water, good values only.", WATER_TEMP;
    program_version: Text, "", "Version of the program that wrote the trip.", ANY;
    units: Text, "", "Units that the boat file asked numbers to be shown in.", Domain::Words(&["imperial", "metric", "marine"]);
    time_zone: Text, "", "Time zone (IANA) that the boat file asked times to be shown in.", ANY;
    effort_assumed: Truth, "", "True where no gear log was given and the usual spread is assumed.", ANY;
    rate_per_rod_hour: Maybe<Float>, "1/h", "Bites a rod-hour over the trip.", NOT_NEGATIVE;
    rate_low: Maybe<Float>, "1/h", "Lower end of the 90 % interval of the rate.", NOT_NEGATIVE;
    rate_high: Maybe<Float>, "1/h", "Upper end of the 90 % interval of the rate.", NOT_NEGATIVE;
    remarks: Text, "", "JSON array of sentences: what the captain should know about this trip's data.", ANY;
    hull_temp_bias_c: Maybe<Float>, "°C", "Hull sensor's reading minus the water; missing where neither stated nor determined.", between(-50.0, 50.0);
    hull_temp_bias_se_c: Maybe<Float>, "°C", "Standard error of the bias; missing where the boat file states it.", NOT_NEGATIVE;
    hull_temp_bias_method: Maybe<Text>, "", "How the bias is known: stated in the boat file, or the median difference from the probe near the surface.", Domain::Words(&["boat_file", "probe"]);
    hull_temp_bias_applied: Maybe<Truth>, "", "Whether surface_temp_c is corrected for the bias: stated, or at least three passes of the probe and more than three standard errors.", ANY;
    hull_temp_lag_s: Maybe<Float>, "s", "First-order lag of the hull sensor behind the water; missing where neither stated nor determined.", ANY;
    hull_temp_lag_se_s: Maybe<Float>, "s", "Standard error of the lag; missing where the boat file states it.", NOT_NEGATIVE;
    hull_temp_lag_method: Maybe<Text>, "", "How the lag is known: stated in the boat file, from breaks crossed in different directions or at different speeds, from changes of speed away from breaks, or from both.", Domain::Words(&["boat_file", "crossings", "speed_changes", "crossings_and_speed_changes"]);
    hull_temp_lag_applied: Maybe<Truth>, "", "Whether surface_temp_c is corrected for the lag: stated, or at least two independent contrasts between crossings or changes of speed, and more than three standard errors.", ANY;
    transducer_depth_m: Maybe<Float>, "m", "Depth of the sounder's transducer below the surface that was added to depths counted from it; missing where no depth counts from it or its depth is not known.", ANY;
    transducer_depth_method: Maybe<Text>, "", "How that is known: stated in the boat file, or by the sounder itself (offset of the DPT sentence).", Domain::Words(&["boat_file", "sounder"]);
    quality: Maybe<Text>, "", "JSON object: stream, then QARTOD test, then how many samples passed, were not evaluated, suspect or failed. A test sees what those before it left; gap counts the samples behind a gap; the syntax test is the reader's, its failures are what sources says was set aside.", ANY;
    probe_lag_s: Maybe<Float>, "s", "First-order lag of the probe's thermometer, by casts that went down and up; by chance it may come out negative. Missing where fewer than four casts tell it.", ANY;
    probe_lag_se_s: Maybe<Float>, "s", "Standard error of that lag.", NOT_NEGATIVE;
    probe_lag_applied: Maybe<Truth>, "", "Whether the profiles are corrected for it: half a second or more, and four standard errors.", ANY;
    local_date: Maybe<Text>, "", "Day of the trip's first second in the boat's time zone, YYYY-MM-DD.", ANY;
}

impl Row {
    /// Day of the trip's start in the boat's time zone.
    pub fn day(&self) -> Date {
        local_day(self.local_date.as_deref(), &self.time_zone, self.time_start)
    }
}

/// The day that a trip states; of one from before trips stated it, that of its start in the zone of that name, UTC where
/// there is no such zone. Of whatever engine is asked, a trip has this day: a pool states it for every trip.
pub(crate) fn local_day(said: Option<&str>, zone: &str, start_us: i64) -> Date {
    let said = said.and_then(|text| text.parse().ok());
    said.unwrap_or_else(|| day_in(&TimeZone::get(zone).unwrap_or(TimeZone::UTC), start_us))
}
